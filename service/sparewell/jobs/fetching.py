"""The pieces promised to a job that still lie in their drawers, in the order of one walk."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.jobs.tables import Job
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation


@dataclass(frozen=True)
class ToFetch:
    """Pieces of one reservation that are promised and not in the tray yet."""

    reservation: Reservation
    lot: Lot

    @property
    def quantity(self) -> int:
        """How many are to be fetched."""
        return self.reservation.promised - self.reservation.in_tray


def taken_for(session: Session, job: Job) -> Sequence[tuple[Reservation, Lot]]:
    """Return everything that was ever promised to a job, with its lot, the earliest first."""
    statement = (
        select(Reservation, Lot)
        .join(Lot, Lot.id == Reservation.lot_id)
        .where(Reservation.job_id == job.id)
        .order_by(Reservation.id)
    )
    return [(reservation, lot) for reservation, lot in session.execute(statement).unique()]


def fetch_list(
    taken: Iterable[tuple[Reservation, Lot]], now: datetime
) -> list[tuple[str, Sequence[ToFetch]]]:
    """Return what is to be fetched by place, in the order of the places' codes: A2 before A10.

    A hold whose time is over is not fetched any more.
    """
    found = [
        ToFetch(reservation, lot)
        for reservation, lot in taken
        if reservation.promised > reservation.in_tray
        and (reservation.expires_at is None or reservation.expires_at > now)
    ]
    found.sort(key=lambda each: (as_walked(each.lot.place.code), each.reservation.id))
    return [
        (code, tuple(group)) for code, group in groupby(found, lambda each: each.lot.place.code)
    ]


def as_walked(code: str) -> tuple[list[tuple[int, str]], str]:
    """Return a key that takes figures as numbers and capitals as small letters."""
    parts = re.findall(r"[0-9]{1,18}|[^0-9]+", code.casefold())
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts], code
