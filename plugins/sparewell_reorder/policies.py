"""The policies: from how a part was wanted to when it is to be ordered."""

from __future__ import annotations

import math
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from statistics import fmean, pstdev
from typing import Final

from sparewell.plugin import (
    COMMON_PRACTICE,
    Decision,
    Demand,
    Field,
    FieldType,
    ImpossibleInput,
    Inputs,
    ReorderPolicy,
    number_text,
)
from sparewell_reorder import intermittent, normal, poisson
from sparewell_reorder.settings import (
    COVER_DAYS,
    KEEP_AT_LEAST,
    LEVEL_FIELD,
    MOST_PIECES,
    SERVICE_LEVEL,
    SMOOTHING,
    SMOOTHING_FIELD,
    level_of,
    smoothing_of,
)

STOCK_TEXTS: Final = (
    "Fundamentals of Supply Chain Theory; Introduction to Operations Research: reorder points"
)
INTERMITTENT_PAPERS: Final = (
    "Croston, Forecasting and stock control for intermittent demands (1972)",
    "Syntetos and Boylan, The accuracy of intermittent demand estimates (2005)",
    (
        "Teunter, Syntetos and Babai, Intermittent demand: linking forecasting to inventory "
        "obsolescence (2011)"
    ),
)


class Method(StrEnum):
    """The forecasts for parts that are mostly not wanted."""

    CROSTON = "croston"
    SBA = "sba"
    TSB = "tsb"


METHOD_FIELD: Final = Field(
    name="method",
    title="Method",
    type=FieldType.CHOICE,
    help="Left out, sba.",
    choices=tuple(Method),
)


def forecast_of(
    method: Method, history: tuple[int, ...], smoothing: float
) -> intermittent.Forecast:
    """Return a method's forecast for one period."""
    match method:
        case Method.CROSTON:
            return intermittent.croston(history, smoothing)
        case Method.SBA:
            return intermittent.sba(history, smoothing)
        case Method.TSB:
            return intermittent.tsb(history, smoothing, smoothing)


def _periods(demand: Demand) -> float:
    """Return how many periods pass until what is ordered at the next look has come."""
    return float(demand.lead_days + demand.review_days) / demand.period_days


def _mean(demand: Demand) -> float:
    return fmean(demand.history) if demand.history else 0.0


def _cover(demand: Demand, per_period: float, inputs: Inputs) -> int:
    """Return how many pieces an order brings beyond the threshold: at least one."""
    days = float(inputs.setting_number(COVER_DAYS.name))
    return max(1, round(per_period * days / demand.period_days))


def _figure(value: float) -> str:
    return number_text(Fraction(value), 2)


def _spoken(demand: Demand, per_period: float) -> str:
    days = number_text(Fraction(demand.lead_days + demand.review_days), 1)
    return (
        f"{_figure(per_period)} in {demand.period_days} days are "
        f"{_figure(per_period * _periods(demand))} until an order has come ({days} days)"
    )


def _level(value: float) -> Decimal:
    return Decimal(f"{value:.4f}")


def keep_at_least(demand: Demand, inputs: Inputs) -> Decision:
    """Order as soon as fewer than so many pieces are free or on their way."""
    chosen = inputs.number("pieces")
    pieces = int(inputs.setting_number(KEEP_AT_LEAST.name) if chosen is None else chosen)
    up_to = inputs.number("up_to")
    if up_to is not None and up_to < pieces:
        raise ImpossibleInput(("up_to", f"must be at least the {pieces} pieces to keep"))
    filled = pieces - 1 + _cover(demand, _mean(demand), inputs) if up_to is None else int(up_to)
    why = f"keep at least {pieces}"
    return Decision(pieces - 1, max(filled, pieces), why)


def by_poisson(demand: Demand, inputs: Inputs) -> Decision:
    """Cover the wishes until an order has come, each of which comes by itself."""
    per_period, level = _mean(demand), level_of(inputs)
    point, achieved = poisson.least_covering(per_period * _periods(demand), level)
    why = f"{_spoken(demand, per_period)}: with {point} the chance to last is {achieved:.1%}"
    return Decision(
        point, point + _cover(demand, per_period, inputs), why, achieved_level=_level(achieved)
    )


def by_normal(demand: Demand, inputs: Inputs) -> Decision:
    """Cover a steady stream of wishes until an order has come."""
    per_period, level = _mean(demand), level_of(inputs)
    deviation = pstdev(demand.history) if demand.history else 0.0
    wanted = normal.lead_time_demand(per_period, deviation, _periods(demand))
    exact, safety_stock = normal.reorder_point(wanted, level)
    point = max(0, math.ceil(exact))
    achieved = normal.level_of(wanted, point)
    why = (
        f"{_spoken(demand, per_period)}, and {_figure(safety_stock)} for safety: with {point} the "
        f"chance to last is {achieved:.1%}"
    )
    return Decision(
        point, point + _cover(demand, per_period, inputs), why, achieved_level=_level(achieved)
    )


def by_intermittent(demand: Demand, inputs: Inputs) -> Decision:
    """Cover wishes that come seldom, and then for several pieces.

    The wishes until an order has come are taken as Poisson, each for the forecast's size.
    """
    method = Method(inputs.text("method") or Method.SBA)
    forecast = forecast_of(method, demand.history, smoothing_of(inputs))
    if forecast.size == 0:
        return Decision(0, 1, "it was never wanted")
    wishes = forecast.per_period / forecast.size * _periods(demand)
    count, achieved = poisson.least_covering(wishes, level_of(inputs))
    point = math.ceil(count * forecast.size)
    why = (
        f"{_spoken(demand, forecast.per_period)} by {method.value.upper()}, "
        f"{_figure(forecast.size)} at a time: with {point} the chance to last is {achieved:.1%}"
    )
    return Decision(
        point,
        point + _cover(demand, forecast.per_period, inputs),
        why,
        achieved_level=_level(achieved),
        working=(f"Start of the forecast: {intermittent.START_UP_RULE}.",),
    )


def _pieces(name: str, title: str, text: str) -> Field:
    return Field(
        name=name,
        title=title,
        type=FieldType.INTEGER,
        help=text,
        minimum=0,
        maximum=MOST_PIECES,
    )


POLICIES: Final = (
    ReorderPolicy(
        name="keep_at_least",
        title="Keep at least so many",
        help="Order as soon as fewer are free or on their way.",
        parameters=(
            _pieces("pieces", "Keep at least", "Left out, the workshop's number."),
            _pieces("up_to", "Fill up to", "Left out, enough to last the workshop's while."),
        ),
        decide=keep_at_least,
        sources=(COMMON_PRACTICE,),
        settings=(KEEP_AT_LEAST, COVER_DAYS),
        asks_first="pieces",
    ),
    ReorderPolicy(
        name="poisson",
        title="By how often it is wanted",
        help="For wishes that come one by one: the fewest pieces that last to the service level.",
        parameters=(LEVEL_FIELD,),
        decide=by_poisson,
        sources=(STOCK_TEXTS,),
        settings=(SERVICE_LEVEL, COVER_DAYS),
        asks_first=LEVEL_FIELD.name,
    ),
    ReorderPolicy(
        name="normal",
        title="By a steady stream of wishes",
        help="For parts that are wanted many times a month.",
        parameters=(LEVEL_FIELD,),
        decide=by_normal,
        sources=(STOCK_TEXTS,),
        settings=(SERVICE_LEVEL, COVER_DAYS),
        asks_first=LEVEL_FIELD.name,
    ),
    ReorderPolicy(
        name="intermittent",
        title="For parts seldom wanted",
        help="For wishes that come seldom, and then for several pieces.",
        parameters=(METHOD_FIELD, SMOOTHING_FIELD, LEVEL_FIELD),
        decide=by_intermittent,
        sources=INTERMITTENT_PAPERS,
        settings=(SERVICE_LEVEL, COVER_DAYS, SMOOTHING),
        asks_first=LEVEL_FIELD.name,
    ),
)
