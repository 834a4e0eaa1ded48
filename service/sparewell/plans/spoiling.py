"""A piece spoiled at fitting: it is written off, its need is open again, and the next is offered.

The next piece may be reserved in the same transaction. What it takes is locked in the one order,
so the lots are looked for first, and then all is done again with them locked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.errors import Conflict
from sparewell.extend.declarations import Verdict
from sparewell.jobs.agreed import refuse_declined
from sparewell.jobs.tables import Job, Need
from sparewell.ledger.operations import lock_lots
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.plans.advising import ToOrder, advise, nearest_by_hand
from sparewell.plans.need_plans import NeedPlan, Taking
from sparewell.plans.planning import plan_job
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.reservations.operations import NewPromise
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

LOOKS = 4
MOST_OFFERED = 3
OUTRUN = "others were faster each time; look at the plan again"


@dataclass(frozen=True)
class OfferedPiece:
    """A piece that would do next; without a verdict a person judges it."""

    lot: Lot
    verdict: Verdict | None
    why: str


@dataclass(frozen=True)
class Next:
    """What comes after a spoiled piece; `why` says it in a sentence.

    `takings` are what could be promised unasked, the first of them first.
    """

    job: Job
    kind: str
    need: Need | None = None
    lacks: int = 0
    reserved: Sequence[Reservation] = ()
    offers: Sequence[OfferedPiece] = ()
    takings: Sequence[Taking] = ()
    to_order: Sequence[ToOrder] = ()
    why: str = ""


def spoil(
    work: Work, reservation: Reservation, quantity: int | None, note: str
) -> tuple[Reservation, Next]:
    """Write off pieces ruined at fitting, and say what would do in their place."""
    reservation = reservations.spoil(work, reservation, quantity, note)
    return reservation, _next(work, reservation)


def spoil_and_reserve(
    work: Work, reservation: Reservation, quantity: int | None, note: str
) -> tuple[Reservation, Next]:
    """Write off pieces, and promise as many of the next ones, all of them or none.

    Where none can be had the pieces are spoiled all the same, and the answer says why.
    """
    reservation_id = reservation.id
    locked(work.session, work.session.get_one(Job, reservation.job_id))
    wanted = set(_lots_of(work, reservation_id))
    for _ in range(LOOKS):
        with work.session.begin_nested() as look:
            lapse_expired(work, with_reservations=[reservation_id], with_lots=wanted)
            lock_lots(work.session, wanted)
            reservation = work.session.get_one(Reservation, reservation_id)
            before = reservation.spoiled
            reservation = reservations.spoil(work, reservation, quantity, note)
            found = _next(work, reservation)
            takings = _so_many(found.takings, min(found.lacks, reservation.spoiled - before))
            lots = {taking.lot_id for taking in takings}
            lots |= {lot.id for lot in inside(work.session, lots)}
            if lots <= wanted:
                return reservation, _reserved(work, found, takings, note)
            wanted |= lots
            look.rollback()
        work.session.expire_all()
    reservation = work.session.get_one(Reservation, reservation_id)
    reservation, found = spoil(work, reservation, quantity, note)
    return reservation, replace(found, why=f"{found.why}; nothing was reserved: {OUTRUN}")


def _lots_of(work: Work, reservation_id: int) -> Sequence[int]:
    """Return the lots of a reservation and of those that go with it."""
    family = (Reservation.id == reservation_id) | (Reservation.goes_with_id == reservation_id)
    return work.session.scalars(select(Reservation.lot_id).where(family)).all()


def _next(work: Work, reservation: Reservation) -> Next:
    job = work.session.get_one(Job, reservation.job_id)
    lot = work.session.get_one(Lot, reservation.lot_id)
    found = Next(job, lot.kind)
    plans = plan_job(work, job).needs
    plan = next((plan for plan in plans if plan.need.id == reservation.need_id), None)
    if plan is None:
        return replace(found, why="it was extra: no need lacks it")
    lacks = plan.cover.remaining(plan.need)
    named = f"need {plan.need.id} ({plan.need.kind})"
    if not lacks:
        state = plan.cover.state(plan.need)
        return replace(found, need=plan.need, why=f"{named} lacks nothing: it is {state}")
    offers, takings = _offers(work, job, plan, lot)
    if offers:
        first = offers[0]
        why = f"bag {first.lot.id} in {first.lot.place.code} is next: {first.why}"
    else:
        why = plan.problem or "nothing in hand would do"
    return replace(
        found,
        need=plan.need,
        lacks=lacks,
        offers=offers[:MOST_OFFERED],
        takings=takings,
        to_order=advise(work, job, plan).to_order,
        why=f"{named} lacks {lacks}: {why}",
    )


def _offers(
    work: Work, job: Job, plan: NeedPlan, spoiled: Lot
) -> tuple[list[OfferedPiece], Sequence[Taking]]:
    """Return what would do, best first, and what of it could be taken unasked.

    Where no calculator judges, a person chose that lot, so only more of it is taken unasked.
    """
    if plan.found is not None:
        best = [taking.lot_id for taking in plan.best]
        first = sorted(plan.found.candidates, key=lambda each: each.lot.id not in best)
        return [OfferedPiece(each.lot, each.verdict, each.why) for each in first], plan.best
    if plan.need.calculator is not None:
        return [], ()
    others = [lot for lot in nearest_by_hand(work, job, plan.need) if lot.id != spoiled.id]
    offers = [OfferedPiece(lot, None, "no calculator judges it") for lot in others]
    if not spoiled.available:
        return offers, ()
    same = OfferedPiece(spoiled, None, "it is of the same lot")
    return [same, *offers], [Taking(spoiled.id, spoiled.available, None, same.why)]


def _so_many(takings: Sequence[Taking], wanted: int) -> list[Taking]:
    """Return so many pieces of what could be taken, or nothing."""
    chosen = []
    for taking in takings:
        pieces = min(wanted, taking.quantity)
        if pieces:
            chosen.append(replace(taking, quantity=pieces))
            wanted -= pieces
    return [] if wanted else chosen


def _reserved(work: Work, found: Next, takings: Sequence[Taking], note: str) -> Next:
    """Promise what was chosen, its lots being locked; say so, or why there is nothing."""
    if not takings or found.need is None:
        return replace(found, why=f"{found.why}; nothing was reserved")
    promises = [
        NewPromise(
            taking.lot_id,
            taking.quantity,
            found.job.id,
            found.need.id,
            taking.verdict,
            taking.why,
            note,
        )
        for taking in takings
    ]
    try:
        refuse_declined(work.session, found.job)
        made = reservations.promise_all(work, promises)
    except Conflict as refusal:
        return replace(found, why=f"{found.why}; nothing was reserved: {refusal.detail}")
    if made is None:
        return replace(found, why=f"{found.why}; nothing was reserved: {OUTRUN}")
    lacks = found.lacks - sum(row.quantity for row in made)
    told = ", ".join(f"{row.quantity} of bag {row.lot_id}" for row in made)
    return replace(
        found,
        lacks=lacks,
        reserved=made,
        offers=found.offers if lacks else (),
        to_order=found.to_order if lacks else (),
        why=f"reserved {told} for need {found.need.id} ({found.need.kind})",
    )
