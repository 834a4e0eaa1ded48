"""The one search: lots of a kind by ranges of dimensions, in drawers and in donors.

It runs on the dimension columns, through the index that leads with the kind and the dimension the
kind is looked up by, over lots that have something left.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, select, true
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.catalogue.tables import column_of
from sparewell.extend.declarations import Range
from sparewell.lots.conditions import Condition
from sparewell.lots.tables import Lot

MOST_JUDGED = 200
MOST_MISSES = 20


def dimension_column(name: str) -> InstrumentedAttribute[int | None]:
    """Return the lot's column of a dimension."""
    column: InstrumentedAttribute[int | None] = getattr(Lot, column_of(name))
    return column


def within(ranges: Mapping[str, Range]) -> list[ColumnElement[bool]]:
    """Return the conditions of a box; a lot whose dimension is unknown is outside."""
    conditions: list[ColumnElement[bool]] = []
    for name, bounds in ranges.items():
        column = dimension_column(name)
        if bounds.low is not None:
            conditions.append(column >= bounds.low)
        if bounds.high is not None:
            conditions.append(column <= bounds.high)
    return conditions


def of_a_donor_whose(kind: str, conditions: Sequence[ColumnElement[bool]]) -> ColumnElement[bool]:
    """Return the condition that a lot's donor has, or had, a piece of a kind that meets these.

    So a clip is found by its cap, fixed in it or not, and also once either was taken out.
    """
    donors = select(Lot.donor_id).where(Lot.kind == kind, Lot.donor_id.is_not(None), *conditions)
    return Lot.donor_id.in_(donors.correlate(None))


def nearest(
    session: Session, kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]
) -> Sequence[Lot]:
    """Return the lots inside a box that have something left, nearest to the ideal first."""
    statement = (
        _free(kind)
        .where(*within(ranges))
        .order_by(
            func.abs(dimension_column(lead) - ideal),
            Lot.made_from.asc().nulls_last(),
            Lot.id,
        )
        .limit(MOST_JUDGED)
    )
    return session.scalars(statement).unique().all()


def misses(
    session: Session, kind: str, lead: str, ideal: int, ranges: Mapping[str, Range]
) -> list[Lot]:
    """Return the nearest lots that are outside a box, by their leading dimension.

    That is those just below and just above its leading range, those inside it that another range
    leaves out, and last those whose leading dimension is not known.
    """
    column = dimension_column(lead)
    found: list[Lot] = []
    for condition, order in _beside(column, ideal, lead, ranges):
        statement = _free(kind).where(condition).order_by(order, Lot.id).limit(MOST_MISSES)
        found += session.scalars(statement).unique().all()
    found.sort(key=lambda lot: (_distance(lot, lead, ranges[lead]), lot.id))
    if len(found) < MOST_MISSES:
        unknown = _free(kind).where(column.is_(None)).order_by(Lot.id).limit(MOST_MISSES)
        found += session.scalars(unknown).unique().all()
    return found[:MOST_MISSES]


def _beside(
    column: InstrumentedAttribute[int | None], ideal: int, lead: str, ranges: Mapping[str, Range]
) -> Iterator[tuple[ColumnElement[bool], Any]]:
    """Yield each way of being outside, and the order that puts the nearest first."""
    bounds = ranges[lead]
    if bounds.low is not None:
        yield column < bounds.low, column.desc()
    if bounds.high is not None:
        yield column > bounds.high, column.asc()
    others = {name: each for name, each in ranges.items() if name != lead}
    if others:
        # `IS NOT TRUE` holds too where the other dimension is not known.
        left_out = and_(*within(others)).is_not(true())
        yield and_(*within({lead: bounds}), left_out), func.abs(column - ideal)


def _distance(lot: Lot, lead: str, bounds: Range) -> int:
    value: int = getattr(lot, column_of(lead))
    if bounds.low is not None and value < bounds.low:
        return bounds.low - value
    return max(0, value - bounds.high) if bounds.high is not None else 0


def _free(kind: str) -> Select[Any]:
    return select(Lot).where(Lot.kind == kind, Lot.has_available, is_whole())


def is_whole() -> ColumnElement[bool]:
    """Return the condition that a lot is what its kind says; an offcut is that no longer."""
    return Lot.condition.is_(None) | (Lot.condition != Condition.OFFCUT)
