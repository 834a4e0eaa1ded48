"""Reorder points, forecasts and batch sizes against published tables and worked examples."""

from __future__ import annotations

import itertools
import os
from typing import Any

import pytest

from sparewell_reorder import batches, intermittent, normal, poisson

# The least r with P(X <= r) at or above each level: tables of the Poisson distribution.
LEVELS = (0.80, 0.90, 0.95, 0.98, 0.99)
LEAST = {0.5: (1, 1, 2, 2, 3), 1: (2, 2, 3, 3, 4), 2: (3, 4, 5, 5, 6), 10: (13, 14, 15, 17, 18)}
# Share of wishes served from a base stock of 1 to 5: Factory Physics, chapter on base stock.
SERVED = {
    0.5: (0.6065, 0.9098, 0.9856, 0.9982, 0.9998),
    1: (0.3679, 0.7358, 0.9197, 0.9810, 0.9963),
    2: (0.1353, 0.4060, 0.6767, 0.8571, 0.9473),
    10: (0.0000, 0.0005, 0.0028, 0.0103, 0.0293),
}
# Forecasting: Principles and Practice, second edition, product C.
PRODUCT_C = (
    *(0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0),
    *(0, 7, 0, 0, 0, 0, 0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0),
)


@pytest.fixture
def statistics() -> Any:
    """An independent library of distributions; on a desk without one its tests are left out."""
    try:
        from scipy import stats
    except ImportError:
        assert os.environ.get("CI") != "true", "CI has no scipy"
        pytest.skip("no scipy here; .ci/oracles.txt pins it")
    return stats


@pytest.mark.parametrize("mean", LEAST)
def test_least_covering_is_that_of_the_tables(mean: float) -> None:
    """Each mean and level gives the printed r."""
    assert tuple(poisson.least_covering(mean, level)[0] for level in LEVELS) == LEAST[mean]


def test_levels_that_are_nearly_missed() -> None:
    """Mean 1 at 98 % is just reached by 3 (.98101), mean 10 at 95 % by 15 (.9513)."""
    assert poisson.at_most(1, 3) == pytest.approx(0.98101, abs=5e-6)
    assert [round(poisson.at_most(10, number), 4) for number in (12, 13, 14, 15)] == [
        *(0.7916, 0.8645, 0.9165, 0.9513),
    ]


def test_the_trades_own_examples() -> None:
    """Six a month and three weeks: 10 for 95 % (9 gives 94.6 %); once in four months: 1."""
    point, achieved = poisson.least_covering(5.5, 0.95)
    assert (point, round(achieved, 3), round(poisson.at_most(5.5, 9), 3)) == (10, 0.975, 0.946)
    assert poisson.least_covering(0.23, 0.95)[0] == 1
    assert poisson.at_most(0.23, 1) == pytest.approx(0.977, abs=5e-4)


@pytest.mark.parametrize("mean", SERVED)
def test_share_served_is_that_of_the_table(mean: float) -> None:
    """Each base stock serves the printed share."""
    found = tuple(round(poisson.share_served(mean, stock), 4) for stock in range(1, 6))
    assert found == SERVED[mean]


def test_poisson_loss() -> None:
    """E[(X - 18)+] at mean 15 is .5176095283."""
    assert poisson.expected_beyond(15, 18) == pytest.approx(0.5176095283, abs=5e-11)


@pytest.mark.parametrize("mean", [0, 1e-9, 0.3, 4, 9, 88.5, 745, 5_000, 99_999])
def test_poisson_agrees_with_an_independent_library(statistics: Any, mean: float) -> None:
    """Probabilities and quantiles agree from nothing to a hundred thousand."""
    other = statistics.poisson(mean)
    for level in (0.5, 0.9, 0.95, 0.999):
        point, achieved = poisson.least_covering(mean, level)
        assert point == max(0, int(other.ppf(level)))
        assert achieved == pytest.approx(float(other.cdf(point)), abs=1e-9)


@pytest.mark.parametrize(
    ("mean", "deviation", "periods", "level", "safety", "point"),
    [(60, 7, 6, 0.95, 28.203, 388.203), (2.5, 1.2, 25, 0.90, 7.689, 70.189)],
)
def test_normal_reorder_points(
    mean: float, deviation: float, periods: float, level: float, safety: float, point: float
) -> None:
    """Worked examples of a course on operations: safety stock and reorder point as printed."""
    demand = normal.lead_time_demand(mean, deviation, periods)
    found, stock = normal.reorder_point(demand, level)
    assert (round(found, 3), round(stock, 3)) == (point, safety)


def test_a_lead_time_that_varies() -> None:
    """Mean 10, sigma 2, five periods give or take one: sqrt(120)."""
    assert normal.lead_time_demand(10, 2, 5, 1).deviation == pytest.approx(10.954451, abs=5e-7)


def test_standard_normal_loss() -> None:
    """The table of the standard normal loss at .5, 1 and 2, and its own loss by integration."""
    assert [round(normal.loss(z), 10) for z in (0.5, 1, 2)] == [
        *(0.1977965574, 0.0833154706, 0.0084907026),
    ]
    step = 1e-3
    area = sum(normal.loss(0.5 + step * (number + 0.5)) * step for number in range(9_000))
    assert normal.second_loss(0.5) == pytest.approx(area, abs=1e-7)


def test_forecasts_of_product_c() -> None:
    """Croston .9845965214 (the book prints .985), SBA .9353666953, TSB .8040651023."""
    found = intermittent.croston(PRODUCT_C, 0.1)
    assert (round(found.size, 10), round(found.interval or 0, 8)) == (2.7502538401, 2.79328007)
    assert found.per_period == pytest.approx(0.9845965214, abs=5e-11)
    assert intermittent.sba(PRODUCT_C, 0.1).per_period == pytest.approx(0.9353666953, abs=5e-11)
    sinking = intermittent.tsb(PRODUCT_C, 0.1, 0.1)
    assert sinking.per_period == pytest.approx(0.8040651023, abs=5e-11)
    assert sinking.chance == pytest.approx(0.2923603234, abs=5e-11)


def test_a_forecast_of_nothing_and_of_every_period() -> None:
    """Nothing wanted is nothing expected; the same each period is itself, less SBA's share."""
    for method in (intermittent.croston, intermittent.sba):
        assert method((0, 0, 0), 0.1).per_period == 0
    assert intermittent.tsb((0,) * 5, 0.1, 0.1).per_period == 0
    assert intermittent.croston((3,) * 9, 0.2).per_period == 3
    assert intermittent.sba((3,) * 9, 0.2).per_period == pytest.approx(2.7)
    assert intermittent.tsb((3,) * 9, 0.2, 0.2).per_period == 3


def test_tsb_sinks_while_nobody_asks() -> None:
    """Croston's forecast stands still over empty periods, TSB's sinks with each."""
    quiet = (*PRODUCT_C, *(0,) * 24)
    assert intermittent.croston(quiet, 0.1) == intermittent.croston(PRODUCT_C, 0.1)
    assert intermittent.tsb(quiet, 0.1, 0.1).per_period < 0.1


def test_economic_batches() -> None:
    """Examples of Fundamentals of Supply Chain Theory and Introduction to Operations Research."""
    plain = batches.square_root(8, 0.225, 1300)
    assert (round(plain.quantity, 10), round(plain.cost, 10)) == (304.0467800264, 68.4105255059)
    waiting = batches.with_shortage(8, 0.225, 1300, 5)
    assert round(waiting.quantity, 9) == 310.812555159
    assert (round(waiting.short_share or 0, 10), round(waiting.cost, 10)) == (
        *(0.0430622010, 66.9213635510),
    )
    broken = batches.with_breaks(8, 0.3, 1300, [(0, 0.75), (400, 0.72), (800, 0.68)])
    assert (broken.quantity, round(broken.cost, 4), broken.unit_price) == (800, 978.6, 0.68)
    speakers = batches.square_root(12_000, 0.30, 8_000)
    assert (round(speakers.quantity), round(speakers.cost, 1)) == (25_298, 7_589.5)
    assert round(batches.with_shortage(12_000, 0.30, 8_000, 1.10).quantity, 2) == 28_540.24


def test_point_and_batch_under_normal_demand() -> None:
    """The exact optimum 126.867, 328.449 at 78.0711463, and the cost beside it."""
    demand = normal.lead_time_demand(1300, 150, 1 / 12)
    found = batches.normal_point_and_batch(demand, 1300, 8, 0.225, 7.5)
    assert (round(found.point, 3), round(found.quantity, 3)) == (126.867, 328.449)
    assert found.cost == pytest.approx(78.0711463, abs=5e-8)
    beside = batches.normal_cost(demand, 1300, 8, 0.225, 7.5, 126.8, 328.5)
    assert beside == pytest.approx(78.0711625, abs=5e-8)


def test_point_and_batch_under_poisson_demand() -> None:
    """Order 5 at 3 for 107.9235806331; no other pair within reach costs less."""
    found = batches.poisson_point_and_batch(3, 1.5, 100, 20, 150)
    assert (found.point, found.quantity) == (3, 5)
    assert found.cost == pytest.approx(107.9235806331, abs=5e-10)

    def cost(point: int, quantity: int) -> float:
        total = 100 * 1.5
        for stock in range(point + 1, point + quantity + 1):
            short = poisson.expected_beyond(3, stock) if stock >= 0 else 3 - stock
            total += 20 * (stock - 3 + short) + 150 * short
        return total / quantity

    others = [cost(*pair) for pair in itertools.product(range(-3, 12), range(1, 20))]
    assert min(others) == pytest.approx(found.cost, abs=1e-9)
