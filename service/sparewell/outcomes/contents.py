"""What is in a pen now: which pieces, from which lot, since when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session, lazyload

from sparewell.jobs.tables import Job, Need
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.outcomes.operations import is_the_latest
from sparewell.outcomes.tables import Outcome
from sparewell.pens.tables import Pen
from sparewell.reservations.tables import Reservation


@dataclass(frozen=True)
class PenContent:
    """Pieces that are in a pen now."""

    movement: Movement
    job: Job
    lot: Lot
    need: Need | None
    outcome: Outcome | None
    quantity: int
    glue: str


def contents(session: Session, pens: Iterable[Pen]) -> dict[int, list[PenContent]]:
    """Return, by pen, the used pieces that no later job has replaced, oldest first.

    A later job's piece takes the place of the earlier ones of its kind that sealed where it seals;
    one of which nobody said where it went takes the place of all of its kind. What was taken out
    and put back into stock is not there either.
    """
    found: dict[int, list[PenContent]] = {pen.id: [] for pen in pens}
    statement = (
        select(Movement, Job, Lot, Need, Outcome, Reservation.glue)
        .join(Act, Act.id == Movement.act_id)
        .join(Reservation, Reservation.id == Movement.reservation_id)
        .join(Job, Job.id == Movement.job_id)
        .join(Lot, Lot.id == Movement.lot_id)
        .outerjoin(Need, Need.id == Reservation.need_id)
        .outerjoin(Outcome, is_the_latest())
        .options(lazyload(Job.pen), lazyload(Job.needs))
        .where(Job.pen_id.in_(found), Movement.verb.in_((Verb.FITTED, Verb.PUT_BACK)))
        .order_by(Movement.id)
    )
    for line, job, lot, need, outcome, glue in session.execute(statement).unique():
        inside = found[job.pen_id]
        if line.verb == Verb.PUT_BACK:
            inside[:] = _without(inside, line)
            continue
        new = PenContent(line, job, lot, need, outcome, line.pieces, glue or job.glue)
        inside[:] = [*(each for each in inside if not _is_replaced(each, new)), new]
    return found


def _without(inside: Sequence[PenContent], line: Movement) -> Iterator[PenContent]:
    """Yield what is left inside when pieces of one promise have come out, the earliest first."""
    out = line.pieces
    for each in inside:
        taken = min(out, each.quantity) if _is_of(each, line) else 0
        out -= taken
        if taken < each.quantity:
            yield replace(each, quantity=each.quantity - taken)


def _is_of(content: PenContent, line: Movement) -> bool:
    return content.movement.reservation_id == line.reservation_id


def _is_replaced(old: PenContent, new: PenContent) -> bool:
    if old.job.id == new.job.id or old.lot.kind != new.lot.kind:
        return False
    if old.need is None or new.need is None:
        return True
    return old.need.seals_where == new.need.seals_where
