"""The policies decide from how a part was wanted; each says its reason with its numbers."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from sparewell.extend.host import Declarations
from sparewell.plugin import Decision, Demand, ImpossibleInput, Inputs

MONTHLY = Demand((6,) * 6, 30, Decimal(21), Decimal(7))
SELDOM = Demand((1, 0, 0, 0) * 3, 30, Decimal(21), Decimal(7))
NEVER = Demand((), 30, Decimal(21), Decimal(7))


def decide(declared: Declarations, policy: str, demand: Demand, **parameters: Any) -> Decision:
    """Ask a policy with the settings as they are shipped."""
    settings = {name: setting.default for name, setting in declared.settings.items()}
    inputs = Inputs(parameters, spreads={}, settings=settings, today=date(2026, 11, 25))
    return declared.reorder_policies[policy].decide(demand, inputs)


def test_what_is_wanted_six_times_a_month_is_ordered_at_ten(declared: Declarations) -> None:
    """Three weeks and a weekly look want 5.6: ten last with 97 %, nine would not reach 95 %."""
    decision = decide(declared, "poisson", MONTHLY)
    assert decision.reorder_point == 10
    assert decision.achieved_level is not None
    assert 0.96 < decision.achieved_level < 0.98
    assert "5.6 until an order has come (28 days)" in decision.why


def test_what_is_wanted_once_in_four_months_needs_one(declared: Declarations) -> None:
    """Holding one lasts with 97.7 %, and an order brings one more."""
    decision = decide(declared, "poisson", SELDOM)
    assert (decision.reorder_point, decision.order_up_to) == (1, 2)
    assert decision.achieved_level == Decimal("0.9767")


def test_a_higher_level_never_needs_less(declared: Declarations) -> None:
    """The reorder point does not sink as the level rises, by any policy that has one."""
    for policy in ("poisson", "normal", "intermittent"):
        for demand in (MONTHLY, SELDOM, NEVER):
            points = [
                decide(declared, policy, demand, service_level=level).reorder_point
                for level in (Decimal("0.5"), Decimal("0.9"), Decimal("0.99"))
            ]
            assert points == sorted(points), (policy, demand)


def test_keep_at_least_counts_what_is_left(declared: Declarations) -> None:
    """Keep at least three: two left are due, three are not, and the order fills up beyond it."""
    decision = decide(declared, "keep_at_least", SELDOM, pieces=3)
    assert decision.reorder_point == 2
    assert decision.order_up_to >= 3
    assert decide(declared, "keep_at_least", NEVER, pieces=3, up_to=8).order_up_to == 8


def test_filling_up_to_less_than_is_kept_is_refused(declared: Declarations) -> None:
    """The refusal names the parameter and what would do."""
    with pytest.raises(ImpossibleInput) as refused:
        decide(declared, "keep_at_least", MONTHLY, pieces=3, up_to=2)
    assert refused.value.problems == (("up_to", "must be at least the 3 pieces to keep"),)


@pytest.mark.parametrize("policy", ["keep_at_least", "poisson", "normal", "intermittent"])
def test_every_decision_brings_an_order_to_more_than_its_threshold(
    declared: Declarations, policy: str
) -> None:
    """Whatever the history, an order takes the stock above the point at which it is due."""
    histories = [(), (0,), (7,), (0, 0, 11), (1,) * 24, (250, 3, 0, 90)]
    for history in histories:
        demand = Demand(history, 30, Decimal(21), Decimal(7))
        decision = decide(declared, policy, demand)
        assert decision.order_up_to > decision.reorder_point, history
        assert decision.why


@pytest.mark.parametrize("method", ["croston", "sba", "tsb"])
def test_what_is_wanted_by_the_handful_is_kept_by_the_handful(
    declared: Declarations, method: str
) -> None:
    """Wishes of four at a time need at least four where one at a time needs one."""
    handfuls = Demand((0, 0, 4, 0, 0, 4, 0, 0, 4), 30, Decimal(21), Decimal(7))
    decision = decide(declared, "intermittent", handfuls, method=method)
    assert decision.reorder_point >= 4
    assert method.upper() in decision.why
    assert "Start of the forecast" in decision.working[0]
