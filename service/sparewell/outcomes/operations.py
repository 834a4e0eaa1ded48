"""How used pieces turned out. Outcomes are only added: the latest counts, and all are shown."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session, aliased, contains_eager, lazyload

from sparewell.errors import Conflict, Impossible
from sparewell.extend.host import Declarations
from sparewell.jobs.tables import Job, Need
from sparewell.lots.tables import Lot
from sparewell.measure.length import NANOMETRES_PER_64TH, sixty_fourths
from sparewell.measure.wording import number_text
from sparewell.outcomes.tables import Outcome, TurnedOut
from sparewell.pens.operations import readings_at
from sparewell.pens.tables import Pen
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

MOST_SISTERS = 500
CATALOGUE_ROUNDING_NANOMETRES = 5_000
_A_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Fitting:
    """Pieces of one promise that were used on a pen, and the latest word on them."""

    reservation: Reservation
    job: Job
    lot: Lot
    need: Need | None
    outcome: Outcome | None

    @property
    def pen(self) -> Pen:
        """The pen they went into."""
        return self.job.pen


def impossible_day(work: Work, reservation: Reservation, day: date | None) -> str | None:
    """Say why pieces cannot have been found so on a day; it may be another day elsewhere."""
    if day is None:
        return None
    earliest, latest = reservation.created_at.date() - _A_DAY, work.now.date() + _A_DAY
    if earliest <= day <= latest:
        return None
    return (
        f"{day} cannot be: they were promised on {reservation.created_at:%Y-%m-%d}, and it is "
        f"{work.now:%Y-%m-%d} now"
    )


def add_outcome(
    work: Work, reservation: Reservation, outcome: str, note: str, happened_on: date | None = None
) -> Outcome:
    """Note how used pieces turned out, and when that was found.

    Raises :class:`Conflict` where none was used, :class:`Impossible` for a day that cannot be.
    """
    if reservation.used == 0:
        raise Conflict(
            f"nothing of reservation {reservation.id} was used: it is {reservation.state}"
        )
    wrong = impossible_day(work, reservation, happened_on)
    if wrong:
        raise Impossible.at("/happened_on", wrong)
    job = work.session.get_one(Job, reservation.job_id)
    lot = work.session.get_one(Lot, reservation.lot_id)
    added = Outcome(
        reservation_id=reservation.id,
        outcome=outcome,
        note=note,
        size=size_of(work.declared, lot),
        verdict=reservation.verdict,
        glue=glue_of(work.declared, lot, reservation.glue or job.glue),
        ink=job.ink,
        readings=_as_they_were(job.pen, job.ended_at or work.now),
        actor=work.actor.token,
        person=work.actor.person,
        at=work.now,
        happened_on=happened_on or work.now.date(),
    )
    work.session.add(added)
    work.session.flush()
    return added


def _as_they_were(pen: Pen, moment: datetime) -> dict[str, Any]:
    return {
        name: {
            "id": reading.id,
            "value_nanometres": reading.value_nanometres,
            "value_text": reading.value_text,
            "entered": reading.entered,
        }
        for name, reading in readings_at(pen, moment).items()
    }


def glue_of(declared: Declarations, lot: Lot, glue: str) -> str:
    """Return the glue that a lot's pieces are held by: what was said, or none for their kind."""
    return glue if is_glued(declared, lot.kind) else ""


def is_glued(declared: Declarations, kind: str) -> bool:
    """Whether the pieces of a kind are glued in."""
    return kind in declared.kinds and declared.kinds[kind].glued


def size_of(declared: Declarations, lot: Lot) -> str:
    """Return what people call the size of a lot's pieces.

    That is the number on the packet or in the part's, where the part nominally measures so many
    64ths of an inch; else the part's number, else what the packet says.
    """
    number = _in_64ths(declared, lot)
    if number is not None and any(_says(text, number) for text in (lot.label, part_number(lot))):
        return number
    return part_number(lot) or lot.label or lot.kind


def _in_64ths(declared: Declarations, lot: Lot) -> str | None:
    """Return, in whole or half 64ths of an inch, what a lot's kind is looked up by.

    Catalogues give hundredths of a millimetre, so it need not be nearer than that.
    """
    kind = declared.kinds.get(lot.kind)
    nominal = lot.part.dimensions.get(kind.led_by) if kind and lot.part else None
    if nominal is None:
        return None
    nearest = Fraction(round(2 * sixty_fourths(nominal)), 2)
    if abs(nearest * NANOMETRES_PER_64TH - nominal) > CATALOGUE_ROUNDING_NANOMETRES:
        return None
    return number_text(nearest, 1)


def _says(text: str | None, number: str) -> bool:
    """Whether a text has a number by itself: 16 stands in "no. 16" and "16/64", not in 16.5."""
    alone = rf"(?<![\d.,/]){re.escape(number)}(?!\d|[.,]\d|/(?!64\b))"
    return text is not None and re.search(alone, text.replace("\u00bd", ".5")) is not None


def part_number(lot: Lot) -> str | None:
    """Return the number of a lot's part; None for a piece out of a donor, which may have none."""
    return lot.part.number if lot.part else None


def is_the_latest() -> ColumnElement[bool]:
    """Return the condition that an outcome is the one that counts for its reservation."""
    latest = select(func.max(Outcome.id)).where(Outcome.reservation_id == Reservation.id)
    return Outcome.id == latest.correlate(Reservation).scalar_subquery()


def fittings_of(session: Session, *conditions: Any) -> list[Fitting]:
    """Return what was used on pens, oldest promise first, as far as the conditions hold."""
    statement = (
        select(Reservation, Job, Lot, Need, Outcome)
        .join(Job, Job.id == Reservation.job_id)
        .join(Pen, Pen.id == Job.pen_id)
        .join(Lot, Lot.id == Reservation.lot_id)
        .outerjoin(Need, Need.id == Reservation.need_id)
        .outerjoin(Outcome, is_the_latest())
        .options(contains_eager(Job.pen).lazyload(Pen.readings), lazyload(Job.needs))
        .where(Reservation.used > 0, *conditions)
        .order_by(Reservation.id)
    )
    return [Fitting(*row) for row in session.execute(statement).unique()]


def family_of(session: Session, lot: Lot) -> list[int]:
    """Return the ids of a lot, of those it was split from, and of all that were split from them."""
    root = lot
    while root.parent_lot_id is not None:
        root = session.get_one(Lot, root.parent_lot_id)
    tree = select(Lot.id).where(Lot.id == root.id).cte("family", recursive=True)
    child = aliased(Lot)
    tree = tree.union(select(child.id).join(tree, child.parent_lot_id == tree.c.id))
    return sorted(session.scalars(select(tree.c.id)))


def sisters(fittings: Sequence[Fitting]) -> list[Fitting]:
    """Return what of a family of lots went into pens of which nothing bad is known, newest first.

    When one piece has failed, these are the pens to look at next.
    """
    failed = {
        each.pen.id for each in fittings if each.outcome and each.outcome.outcome != TurnedOut.GOOD
    }
    return [each for each in reversed(fittings) if each.pen.id not in failed]
