"""Pieces fixed in other pieces: the clip in its cap, the nib in its section."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.lots.tables import Lot


def inside(session: Session, lot_ids: Collection[int]) -> list[Lot]:
    """Return the lots in hand that are fixed in these, and in those again."""
    found: dict[int, Lot] = {}
    wanted = set(lot_ids)
    while wanted:
        statement = select(Lot).where(Lot.part_of_lot_id.in_(wanted), Lot.in_hand > 0)
        new = [
            lot
            for lot in session.scalars(statement.order_by(Lot.id)).unique()
            if lot.id not in found
        ]
        found |= {lot.id: lot for lot in new}
        wanted = {lot.id for lot in new}
    return [found[lot_id] for lot_id in sorted(found)]
