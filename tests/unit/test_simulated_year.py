"""A year of wishes by chance: whether as many are served as the policy promised."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import fmean

import pytest

from sparewell.extend.host import Declarations
from sparewell.extend.inputs import Inputs
from sparewell.extend.reordering import Decision, Demand

PERIOD_DAYS, LEAD_DAYS, REVIEW_DAYS = 30, 21, 7
PERIODS_KNOWN = 24
PARTS = 150
SEED = 8417


def wishes(chance: random.Random, mean: float) -> int:
    """Draw how many are wanted where so many are on the mean, each by itself."""
    left, count = chance.random(), 0
    probability = math.exp(-mean)
    while left > probability:
        left -= probability
        count += 1
        probability *= mean / count
    return count


@dataclass
class Shelf:
    """One part for a year: what lies there, what is on its way, what could not be served."""

    free: int
    coming: dict[int, int] = field(default_factory=dict)
    served: int = 0
    wanted: int = 0

    def want(self, pieces: int) -> None:
        """Serve what is there; a job that finds nothing buys elsewhere."""
        self.wanted += pieces
        given = min(pieces, self.free)
        self.served += given
        self.free -= given

    def look(self, day: int, decision: Decision) -> None:
        """Order up to what the policy wants, if it is due."""
        position = self.free + sum(self.coming.values())
        if position <= decision.reorder_point:
            self.coming[day + LEAD_DAYS] = decision.order_up_to - position


def year(chance: random.Random, a_month: float, decide: object, values: Inputs) -> Shelf:
    """Live a year with one part after two in which its use was noted."""
    assert callable(decide)
    history = [wishes(chance, a_month) for _ in range(PERIODS_KNOWN)]
    this_period = 0
    shelf = Shelf(free=0)
    for day in range(-120, 365):
        if day % PERIOD_DAYS == 0:
            history = [*history[1:], this_period]
            this_period = 0
        if day == 0:
            shelf.served = shelf.wanted = 0
        shelf.free += shelf.coming.pop(day, 0)
        pieces = wishes(chance, a_month / PERIOD_DAYS)
        this_period += pieces
        shelf.want(pieces)
        if day % REVIEW_DAYS == 0:
            demand = Demand(tuple(history), PERIOD_DAYS, Decimal(LEAD_DAYS), Decimal(REVIEW_DAYS))
            shelf.look(day, decide(demand, values))
    return shelf


def share_served(declared: Declarations, policy: str, a_month: float, level: str) -> float:
    """Return which share of a year's wishes for many parts was served at once."""
    settings = {name: setting.default for name, setting in declared.settings.items()}
    values = Inputs({"service_level": Decimal(level)}, spreads={}, settings=settings)
    chance = random.Random(SEED)  # noqa: S311 - a seeded simulation
    decide = declared.reorder_policies[policy].decide
    shelves = [year(chance, a_month, decide, values) for _ in range(PARTS)]
    return sum(shelf.served for shelf in shelves) / sum(shelf.wanted for shelf in shelves)


@pytest.mark.parametrize("level", ["0.6", "0.95", "0.99"])
@pytest.mark.parametrize("a_month", [0.25, 1.0, 5.5])
def test_as_many_are_served_as_were_promised(
    declared: Declarations, a_month: float, level: str
) -> None:
    """The share of a year's wishes that is served at once is no lower than the promised level."""
    assert share_served(declared, "poisson", a_month, level) >= float(level)


def test_a_lower_promise_serves_fewer(declared: Declarations) -> None:
    """What is promised makes the difference: at 60 % fewer than 95 of 100 are served."""
    shares = [share_served(declared, "poisson", 0.25, level) for level in ("0.6", "0.95", "0.99")]
    assert shares == sorted(set(shares))
    assert shares[0] < 0.95 <= shares[1]


def test_wishes_come_as_often_as_they_should() -> None:
    """The chance itself is right: the mean of many draws is the mean that was asked for."""
    chance = random.Random(SEED)  # noqa: S311 - a seeded simulation
    assert fmean(wishes(chance, 1.5) for _ in range(20_000)) == pytest.approx(1.5, abs=0.03)
