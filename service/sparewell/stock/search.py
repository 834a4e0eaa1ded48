"""The one search: lots of a kind by ranges of dimensions, in drawers and, one day, in donors.

It runs on the dimension columns, through the index that leads with the kind and the dimension the
kind is looked up by, over lots that have something left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.catalogue.tables import column_of
from sparewell.extend.declarations import Range
from sparewell.stock.tables import Lot, Reservation

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
    session: Session, kind: str, lead: str, ranges: Mapping[str, Range]
) -> list[tuple[Lot, int]]:
    """Return the nearest lots outside the leading range, with how far outside they are."""
    bounds = ranges[lead]
    column = dimension_column(lead)
    found: list[tuple[Lot, int]] = []
    if bounds.low is not None:
        below = _free(kind).where(column < bounds.low).order_by(column.desc(), Lot.id)
        rows = session.scalars(below.limit(MOST_MISSES)).unique()
        found += [(lot, bounds.low - _value(lot, lead)) for lot in rows]
    if bounds.high is not None:
        above = _free(kind).where(column > bounds.high).order_by(column.asc(), Lot.id)
        rows = session.scalars(above.limit(MOST_MISSES)).unique()
        found += [(lot, _value(lot, lead) - bounds.high) for lot in rows]
    return sorted(found, key=lambda miss: (miss[1], miss[0].id))[:MOST_MISSES]


def undimensioned(session: Session, kind: str, lead: str) -> Sequence[Lot]:
    """Return lots whose leading dimension is not known at all."""
    statement = _free(kind).where(dimension_column(lead).is_(None)).order_by(Lot.id)
    return session.scalars(statement.limit(MOST_MISSES)).unique().all()


def fully_promised(session: Session, kind: str, ranges: Mapping[str, Range]) -> Sequence[Lot]:
    """Return lots inside a box of which every piece is promised."""
    promised = select(Reservation.lot_id).where(Reservation.promised > 0)
    statement = (
        select(Lot)
        .where(Lot.id.in_(promised), Lot.kind == kind, Lot.in_hand == Lot.promised)
        .where(*within(ranges))
        .order_by(Lot.id)
        .limit(MOST_MISSES)
    )
    return session.scalars(statement).unique().all()


def _free(kind: str) -> Select[Any]:
    return select(Lot).where(Lot.kind == kind, Lot.has_available)


def _value(lot: Lot, dimension: str) -> int:
    value: int = getattr(lot, column_of(dimension))
    return value
