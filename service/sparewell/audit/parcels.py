"""Whether what parcels say agrees with the ledger. It must always."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session

from sparewell.ledger.tables import Movement, Verb
from sparewell.orders.tables import Parcel, ParcelLine


def supply_faults(session: Session) -> Iterator[str]:
    """Yield each bag whose pieces are not those that its lot arrived with, in its parcel's act."""
    arrived = and_(
        Movement.act_id == Parcel.act_id,
        Movement.lot_id == ParcelLine.lot_id,
        Movement.verb == Verb.ARRIVED,
    )
    pieces = func.coalesce(func.sum(Movement.change), 0)
    statement = (
        select(ParcelLine.parcel_id, ParcelLine.lot_id, ParcelLine.pieces, pieces)
        .join(Parcel, Parcel.id == ParcelLine.parcel_id)
        .outerjoin(Movement, arrived)
        .group_by(ParcelLine.id, ParcelLine.parcel_id, ParcelLine.lot_id, ParcelLine.pieces)
        .having(pieces != ParcelLine.pieces)
        .order_by(ParcelLine.id)
    )
    for parcel_id, lot_id, said, found in session.execute(statement):
        yield (
            f"parcel {parcel_id}: {said} pieces became lot {lot_id}, and {int(found)} arrived in it"
        )
