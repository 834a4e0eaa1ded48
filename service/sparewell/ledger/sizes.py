"""The sizes there are of a kind: what lies nearest, and what is free and was used of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.extend.declarations import Range
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.search import dimension_column, within
from sparewell.lots.tables import Lot

# What leaves for good; a piece ruined at fitting is as gone as one that was fitted.
USED_UP: Final = (Verb.FITTED, Verb.SPOILED)


def nearest_in_hand(
    session: Session, kind: str, dimension: str, ideal: int, tolerance: int, most: int
) -> Sequence[Lot]:
    """Return what is in hand within a tolerance, what is free first, then the nearest."""
    bounds = Range(ideal - tolerance, ideal + tolerance)
    statement = (
        select(Lot)
        .where(Lot.kind == kind, Lot.in_hand > 0, *within({dimension: bounds}))
        .order_by(Lot.has_available.desc(), func.abs(dimension_column(dimension) - ideal), Lot.id)
        .limit(most)
    )
    return session.scalars(statement).unique().all()


def free_by_size(session: Session, kind: str, dimension: str) -> Mapping[int, int]:
    """Return how many pieces are free of each size, in nanometres."""
    column = dimension_column(dimension)
    statement = (
        select(column, func.sum(Lot.in_hand - Lot.promised))
        .where(Lot.kind == kind, Lot.has_available.expression, column.is_not(None))
        .group_by(column)
    )
    return {size: int(pieces) for size, pieces in session.execute(statement) if size is not None}


def used_by_size(session: Session, kind: str, dimension: str, since: datetime) -> Mapping[int, int]:
    """Return how many pieces of each size left for good since a moment, by size in nanometres."""
    column = dimension_column(dimension)
    # Whatever was used up was promised before; few lines of a ledger are of that.
    used = (
        select(Movement.lot_id, func.sum(Movement.pieces).label("pieces"))
        .join(Act, Act.id == Movement.act_id)
        .where(Movement.verb.in_(USED_UP), Movement.reservation_id.is_not(None), Act.at >= since)
        .group_by(Movement.reservation_id, Movement.lot_id)
        .subquery()
    )
    statement = (
        select(column, func.sum(used.c.pieces))
        .join(used, used.c.lot_id == Lot.id)
        .where(Lot.kind == kind, column.is_not(None))
        .group_by(column)
    )
    return {size: int(pieces) for size, pieces in session.execute(statement) if size is not None}
