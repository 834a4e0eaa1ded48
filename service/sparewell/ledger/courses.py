"""How many pieces of a part there were: what is in hand now, and what came and went before."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.ledger.tables import Act, Movement
from sparewell.lots.tables import Lot


def in_hand_of_parts(session: Session, part_ids: Collection[int]) -> Mapping[int, int]:
    """Return by part how many pieces are in hand; one statement however many parts."""
    statement = (
        select(Lot.part_id, func.sum(Lot.in_hand))
        .where(Lot.part_id.in_(part_ids))
        .group_by(Lot.part_id)
    )
    return {part: int(pieces) for part, pieces in session.execute(statement) if part is not None}


def changes_of_parts(
    session: Session, part_ids: Collection[int], since: datetime
) -> Mapping[int, list[tuple[datetime, int]]]:
    """Return by part when how many pieces came or went since a moment; one statement."""
    statement = (
        select(Lot.part_id, Act.at, Movement.change)
        .join(Movement, Movement.lot_id == Lot.id)
        .join(Act, Act.id == Movement.act_id)
        .where(Lot.part_id.in_(part_ids), Act.at >= since, Movement.change != 0)
        .order_by(Movement.id)
    )
    found: dict[int, list[tuple[datetime, int]]] = {}
    for part, at, change in session.execute(statement):
        if part is not None:
            found.setdefault(part, []).append((at, change))
    return found
