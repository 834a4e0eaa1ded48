"""The calculators: a threshold, a forecast and a batch size, by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Final

from sparewell.plugin import (
    Answer,
    Calculator,
    Field,
    FieldType,
    ImpossibleInput,
    Inputs,
    Output,
    OutputType,
)
from sparewell_reorder import batches, intermittent, normal, poisson
from sparewell_reorder.policies import (
    INTERMITTENT_PAPERS,
    METHOD_FIELD,
    STOCK_TEXTS,
    Method,
    forecast_of,
)
from sparewell_reorder.settings import (
    KEEP_AT_LEAST,
    LEVEL_FIELD,
    MOST_PIECES,
    SERVICE_LEVEL,
    SMOOTHING,
    SMOOTHING_FIELD,
    level_of,
    smoothing_of,
)

_NUMBER: Final = OutputType.NUMBER
_MOST_PERIODS = 1000
_MOST = Decimal(100_000)
_LEAST = Decimal("0.0001")


class Policy(StrEnum):
    """The rules by which a threshold can be worked out from figures alone."""

    KEEP_AT_LEAST = "keep_at_least"
    POISSON = "poisson"
    NORMAL = "normal"


def _number(
    name: str, title: str, text: str, *, zero: bool = True, required: bool = False
) -> Field:
    return Field(
        name=name,
        title=title,
        type=FieldType.NUMBER,
        help=text,
        required=required,
        minimum=Decimal(0) if zero else _LEAST,
        maximum=_MOST,
    )


def _given(inputs: Inputs, name: str, otherwise: float) -> float:
    value = inputs.number(name)
    return otherwise if value is None else float(value)


def _needed(inputs: Inputs, policy: Policy, *names: str) -> list[float]:
    missing = [name for name in names if inputs.number(name) is None]
    if missing:
        raise ImpossibleInput(*((name, f"{policy.value} needs it") for name in missing))
    return [_given(inputs, name, 0.0) for name in names]


def reorder_point(inputs: Inputs) -> Answer:
    """Answer at how many pieces an order is due."""
    policy = Policy(inputs.text("policy") or Policy.KEEP_AT_LEAST)
    match policy:
        case Policy.KEEP_AT_LEAST:
            result = _kept(inputs)
        case Policy.POISSON:
            result = _by_poisson(inputs)
        case Policy.NORMAL:
            result = _by_normal(inputs)
    return Answer({"policy": policy.value, **result})


def _kept(inputs: Inputs) -> Mapping[str, object]:
    chosen = inputs.number("pieces")
    pieces = int(inputs.setting_number(KEEP_AT_LEAST.name) if chosen is None else chosen)
    if pieces == 0:
        raise ImpossibleInput(("pieces", "keep at least one, or there is nothing to order"))
    return {
        "reorder_point": pieces - 1,
        "achieved_level": None,
        "exact": None,
        "safety_stock": None,
        "expected_short": None,
        "working": [f"Keep at least {pieces}: order when {pieces - 1} or fewer are left."],
    }


def _by_poisson(inputs: Inputs) -> Mapping[str, object]:
    (mean,) = _needed(inputs, Policy.POISSON, "mean_demand")
    periods = _given(inputs, "lead_time", 1.0) + _given(inputs, "review_interval", 0.0)
    level, total = level_of(inputs), mean * periods
    point, achieved = poisson.least_covering(total, level)
    working = [f"Wanted until an order has come: {mean:g} x {periods:g} = {total:g}."]
    if point:
        below = poisson.at_most(total, point - 1)
        working.append(f"P(demand <= {point - 1}) = {below:.4f}, below {level:g}.")
    working.append(f"P(demand <= {point}) = {achieved:.4f}, the first at or above {level:g}.")
    return {
        "reorder_point": point,
        "achieved_level": achieved,
        "exact": None,
        "safety_stock": point - total,
        "expected_short": poisson.expected_beyond(total, point),
        "working": working,
    }


def _by_normal(inputs: Inputs) -> Mapping[str, object]:
    mean, deviation = _needed(inputs, Policy.NORMAL, "mean_demand", "deviation")
    periods = _given(inputs, "lead_time", 1.0) + _given(inputs, "review_interval", 0.0)
    spread = _given(inputs, "lead_time_deviation", 0.0)
    demand = normal.lead_time_demand(mean, deviation, periods, spread)
    level = level_of(inputs)
    exact, safety_stock = normal.reorder_point(demand, level)
    point = max(0, math.ceil(exact))
    z = normal.STANDARD.inv_cdf(level)
    return {
        "reorder_point": point,
        "achieved_level": normal.level_of(demand, point),
        "exact": exact,
        "safety_stock": safety_stock,
        "expected_short": demand.deviation * normal.loss((point - demand.mean) / demand.deviation)
        if demand.deviation
        else 0.0,
        "working": [
            (
                f"Wanted until an order has come: {mean:g} x {periods:g} = {demand.mean:g}, "
                f"give or take {demand.deviation:.4f}."
            ),
            (
                f"z at {level:g} is {z:.6f}; {z:.6f} x {demand.deviation:.4f} = {safety_stock:.3f} "
                "for safety."
            ),
            f"{demand.mean:g} + {safety_stock:.3f} = {exact:.3f}; whole pieces: {point}.",
        ],
    }


def forecast(inputs: Inputs) -> Answer:
    """Answer what a period is expected to want."""
    history = _history(inputs)
    method = Method(inputs.text("method") or Method.SBA)
    found = forecast_of(method, history, smoothing_of(inputs))
    wanted = sum(1 for each in history if each)
    return Answer(
        {
            "method": method.value,
            "per_period": found.per_period,
            "size": found.size,
            "interval": found.interval,
            "chance": found.chance,
            "periods_a_wish": len(history) / wanted if wanted else None,
            "working": [
                f"{len(history)} periods, of which {wanted} wanted something.",
                f"Start: {intermittent.START_UP_RULE}.",
            ],
        },
        warnings=() if wanted > 1 else ("Hardly ever wanted: no forecast rests on so little.",),
    )


def _history(inputs: Inputs) -> tuple[int, ...]:
    words = (inputs.text("history") or "").replace(",", " ").replace(";", " ").split()
    if not all(word.isascii() and word.isdecimal() and len(word) <= 6 for word in words):  # noqa: PLR2004 - digits of the most
        raise ImpossibleInput(("history", "must be whole numbers, such as 0 2 0 1"))
    if not 1 <= len(words) <= _MOST_PERIODS:
        raise ImpossibleInput(("history", f"must be 1 to {_MOST_PERIODS} periods"))
    return tuple(map(int, words))


def batch_size(inputs: Inputs) -> Answer:
    """Answer how many pieces to order at a time, for whoever buys in bulk."""
    order_cost, holding, demand = (
        _given(inputs, name, 0.0) for name in ("order_cost", "holding_cost", "demand")
    )
    shortage = inputs.number("shortage_cost")
    if shortage is None:
        batch = batches.square_root(order_cost, holding, demand)
    else:
        batch = batches.with_shortage(order_cost, holding, demand, float(shortage))
    paired = _paired(inputs, order_cost, holding, demand, shortage is not None)
    return Answer(
        {
            "batch": batch.quantity,
            "cost": batch.cost,
            "orders": demand / batch.quantity,
            "short_share": batch.short_share,
            "point": paired.point if paired else None,
            "batch_with_point": paired.quantity if paired else None,
            "cost_with_point": paired.cost if paired else None,
            "working": [
                f"Square root of 2 x {order_cost:g} x {demand:g} / {holding:g}"
                + (", stretched by what waiting costs" if shortage is not None else "")
                + f": {batch.quantity:.2f} at a time."
            ],
        },
        warnings=("For whoever buys in bulk: who buys ten a year pays postage, not interest.",),
    )


def _paired(
    inputs: Inputs,
    order_cost: float,
    holding: float,
    demand: float,
    with_shortage: bool,  # noqa: FBT001 - of one caller
) -> batches.PointAndBatch | None:
    lead, deviation = inputs.number("lead_time"), inputs.number("deviation")
    if lead is None or not with_shortage:
        return None
    shortage = _given(inputs, "shortage_cost", 0.0)
    if deviation:
        wanted = normal.lead_time_demand(demand, float(deviation), float(lead))
        return batches.normal_point_and_batch(wanted, demand, order_cost, holding, shortage)
    mean = demand * float(lead)
    if mean > MOST_PIECES:
        raise ImpossibleInput(("lead_time", f"at most {MOST_PIECES} may be wanted in it"))
    return batches.poisson_point_and_batch(mean, demand, order_cost, holding, shortage)


_WORKING: Final = Output("working", OutputType.TEXT, "Every step.", many=True)
CALCULATORS: Final = (
    Calculator(
        name="reorder_point",
        title="When to order",
        help="At how many pieces an order is due.",
        inputs=(
            Field(
                name="policy",
                title="Rule",
                type=FieldType.CHOICE,
                help="poisson: wishes that come one by one. normal: a steady stream.",
                choices=tuple(Policy),
                required=True,
            ),
            _number("mean_demand", "Wanted in a period", "Pieces, on the average."),
            LEVEL_FIELD,
            _number("deviation", "Give or take", "Standard deviation of one period's wishes."),
            _number("lead_time", "Until a parcel comes", "In periods; left out, one."),
            _number("review_interval", "Between two looks", "In periods; left out, none."),
            _number("lead_time_deviation", "Parcels, give or take", "In periods, for normal."),
            Field(
                name="pieces",
                title="Keep at least",
                type=FieldType.INTEGER,
                help="For keep_at_least; left out, the workshop's number.",
                minimum=1,
                maximum=MOST_PIECES,
            ),
        ),
        outputs=(
            Output("policy", OutputType.TEXT, "The rule.", choices=tuple(Policy)),
            Output("reorder_point", OutputType.INTEGER, "Order at so many, or fewer."),
            Output("achieved_level", _NUMBER, "The chance to last with it.", nullable=True),
            Output("exact", _NUMBER, "Before it was rounded up.", nullable=True),
            Output("safety_stock", _NUMBER, "What of it is for safety.", nullable=True),
            Output("expected_short", _NUMBER, "Wishes that would find nothing.", nullable=True),
            _WORKING,
        ),
        headline=("reorder_point", "achieved_level"),
        asks_first=("policy", "mean_demand", "service_level", "lead_time"),
        compute=reorder_point,
        sources=(STOCK_TEXTS,),
        settings=(SERVICE_LEVEL, KEEP_AT_LEAST),
    ),
    Calculator(
        name="demand_forecast",
        title="How much will be wanted",
        help="For parts that are mostly not wanted: what a period is expected to want.",
        inputs=(
            Field(
                name="history",
                title="Wanted, period by period",
                type=FieldType.TEXT,
                help="The oldest first, such as 0 2 0 1 0 11.",
                required=True,
            ),
            METHOD_FIELD,
            SMOOTHING_FIELD,
        ),
        outputs=(
            Output("method", OutputType.TEXT, "The method.", choices=tuple(Method)),
            Output("per_period", _NUMBER, "Pieces in a period."),
            Output("size", _NUMBER, "Pieces at a time."),
            Output("interval", _NUMBER, "Periods from wish to wish.", nullable=True),
            Output("chance", _NUMBER, "The chance that a period wants any.", nullable=True),
            Output("periods_a_wish", _NUMBER, "Periods for each wish so far.", nullable=True),
            _WORKING,
        ),
        headline=("per_period", "size"),
        compute=forecast,
        sources=INTERMITTENT_PAPERS,
        settings=(SMOOTHING,),
    ),
    Calculator(
        name="batch_size",
        title="Batch size",
        help="How many to order at a time, for whoever buys in bulk.",
        inputs=(
            _number("demand", "Wanted in a period", "Pieces.", zero=False, required=True),
            _number(
                "order_cost", "Cost of an order", "Postage and work.", zero=False, required=True
            ),
            _number(
                "holding_cost",
                "Cost of holding",
                "One piece for one period.",
                zero=False,
                required=True,
            ),
            _number("shortage_cost", "Cost of lacking", "One piece for one period.", zero=False),
            _number("lead_time", "Until a parcel comes", "In periods.", zero=False),
            _number("deviation", "Give or take", "Standard deviation; left out, Poisson."),
        ),
        outputs=(
            Output("batch", _NUMBER, "Pieces at a time."),
            Output("cost", _NUMBER, "Of ordering and holding, in a period."),
            Output("orders", _NUMBER, "Orders in a period."),
            Output("short_share", _NUMBER, "Share of time without any.", nullable=True),
            Output("point", _NUMBER, "Order at so many, with the batch beside.", nullable=True),
            Output("batch_with_point", _NUMBER, "Pieces at a time then.", nullable=True),
            Output("cost_with_point", _NUMBER, "What both cost in a period.", nullable=True),
            _WORKING,
        ),
        headline=("batch", "point"),
        compute=batch_size,
        sources=(
            STOCK_TEXTS,
            "Harris, How many parts to make at once (1913)",
            (
                "Zheng, On properties of stochastic inventory systems (1992); Federgruen and "
                "Zheng, An efficient algorithm for computing an optimal (r, Q) policy (1992)"
            ),
        ),
    ),
)
