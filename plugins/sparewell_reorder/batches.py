"""Economic batch sizes, for whoever buys in bulk: the square-root rule, breaks, and (r, Q).

Offered, and never the default: who buys ten sacs a year pays postage, not interest. The rules are
those of Fundamentals of Supply Chain Theory and Introduction to Operations Research; the exact
(r, Q) costs are Zheng's (1992), the search for whole pieces Federgruen and Zheng's (1992).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sparewell_reorder import normal, poisson

_TURNS = 200
_WIDEST = 60.0  # standard deviations in which a reorder point is looked for


@dataclass(frozen=True)
class Batch:
    """How many to order at a time, and what ordering and holding cost per period."""

    quantity: float
    cost: float
    unit_price: float | None = None
    short_share: float | None = None


def square_root(order_cost: float, holding: float, demand: float) -> Batch:
    """Return the batch that balances orders against holding (Harris, 1913)."""
    quantity = math.sqrt(2 * order_cost * demand / holding)
    return Batch(quantity, math.sqrt(2 * order_cost * demand * holding))


def with_shortage(order_cost: float, holding: float, demand: float, shortage: float) -> Batch:
    """Return the batch where jobs may wait, at a price per piece and period."""
    stretch = math.sqrt((holding + shortage) / shortage)
    plain = square_root(order_cost, holding, demand)
    return Batch(
        plain.quantity * stretch, plain.cost / stretch, short_share=holding / (holding + shortage)
    )


def with_breaks(
    order_cost: float, holding_rate: float, demand: float, breaks: Sequence[tuple[float, float]]
) -> Batch:
    """Return the cheapest batch with all-units breaks, the price of the pieces included.

    `breaks` are (least quantity, price of each piece); holding is a share of that price.
    """

    def cost(quantity: float, price: float) -> float:
        holding = holding_rate * price
        return price * demand + order_cost * demand / quantity + holding * quantity / 2

    found = []
    for least, price in breaks:
        best = square_root(order_cost, holding_rate * price, demand).quantity
        quantity = max(best, least)
        if quantity > 0 and _price_at(breaks, quantity) == price:
            found.append(Batch(quantity, cost(quantity, price), unit_price=price))
    return min(found, key=lambda batch: batch.cost)


def _price_at(breaks: Sequence[tuple[float, float]], quantity: float) -> float:
    return max((least, price) for least, price in breaks if least <= quantity)[1]


@dataclass(frozen=True)
class PointAndBatch:
    """Order so many when no more than so many are left or on their way; what that costs."""

    point: float
    quantity: float
    cost: float


def normal_cost(
    demand: normal.LeadTimeDemand,
    rate: float,
    order_cost: float,
    holding: float,
    shortage: float,
    point: float,
    quantity: float,
) -> float:
    """Return the exact average cost of (r, Q) under normal demand in the lead time."""

    def area(stock: float) -> float:
        z = (stock - demand.mean) / demand.deviation
        lost = -(demand.deviation**2) * normal.second_loss(z)
        return holding * (stock - demand.mean) ** 2 / 2 + (holding + shortage) * lost

    return (order_cost * rate + area(point + quantity) - area(point)) / quantity


def normal_point_and_batch(
    demand: normal.LeadTimeDemand, rate: float, order_cost: float, holding: float, shortage: float
) -> PointAndBatch:
    """Return the (r, Q) of least exact cost; the deviation is above nothing.

    At the optimum one piece more at either end of the batch costs what the average costs.
    """

    def rate_at(stock: float) -> float:
        lost = demand.deviation * normal.loss((stock - demand.mean) / demand.deviation)
        return holding * (stock - demand.mean) + (holding + shortage) * lost

    def point_for(quantity: float) -> float:
        low = demand.mean - _WIDEST * demand.deviation - quantity
        high = demand.mean + _WIDEST * demand.deviation
        for _ in range(_TURNS):
            middle = (low + high) / 2
            if rate_at(middle) > rate_at(middle + quantity):
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def cost(quantity: float) -> float:
        return normal_cost(
            demand, rate, order_cost, holding, shortage, point_for(quantity), quantity
        )

    low, high = 0.0, square_root(order_cost, holding, rate).quantity
    while rate_at(point_for(high)) < cost(high):
        high *= 2
    for _ in range(_TURNS):
        middle = (low + high) / 2
        if rate_at(point_for(middle)) < cost(middle):
            low = middle
        else:
            high = middle
    quantity = (low + high) / 2
    return PointAndBatch(point_for(quantity), quantity, cost(quantity))


def poisson_point_and_batch(
    mean: float, rate: float, order_cost: float, holding: float, shortage: float
) -> PointAndBatch:
    """Return the whole (r, Q) of least exact cost under Poisson demand in the lead time.

    The batch grows by the cheaper neighbour for as long as that brings the average down.
    """

    def rate_at(stock: int) -> float:
        short = poisson.expected_beyond(mean, stock)
        return holding * (stock - mean + short) + shortage * short

    best = poisson.least_covering(mean, shortage / (shortage + holding))[0]
    low = high = best
    total = order_cost * rate + rate_at(best)
    while True:
        quantity = high - low + 1
        below, above = rate_at(low - 1), rate_at(high + 1)
        cheaper = min(below, above)
        if cheaper >= total / quantity:
            return PointAndBatch(low - 1, quantity, total / quantity)
        total += cheaper
        low, high = (low - 1, high) if below <= above else (low, high + 1)
