"""A piece spoiled at fitting: it is written off, its need is open again, and the next is offered.

What comes next is worked out first, with nothing locked and as though the piece were gone already.
The next piece may be reserved in the same transaction as the other is written off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from sparewell.errors import Conflict
from sparewell.extend.declarations import Verdict
from sparewell.jobs.agreed import refuse_declined
from sparewell.jobs.ground import Ground, ground_of
from sparewell.jobs.held import HeldPiece, held, without
from sparewell.jobs.tables import Job, Need
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.plans.advising import ToOrder, advise, nearest_by_hand
from sparewell.plans.naming import OUTRUN
from sparewell.plans.need_plans import NeedPlan, Taking
from sparewell.plans.planning import plan_job
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import refuse_over
from sparewell.reservations.promising import NewPromise, how_long, promise_all
from sparewell.reservations.tables import Reservation
from sparewell.work import Stale, Work

MOST_OFFERED = 3


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


@dataclass(frozen=True)
class Spoiling:
    """What comes after pieces of a reservation are written off, and what that was worked out from.

    `promises` are what would be reserved of it; `declined` says why nothing may be.
    """

    ground: Ground
    promised: int
    pieces: int
    next: Next
    promises: Sequence[NewPromise]
    lots: Sequence[int]
    declined: str
    lasts: timedelta | None


def prepare(
    work: Work, reservation_id: int, quantity: int | None = None, *, reserve_next: bool = False
) -> Spoiling | None:
    """Work out what comes after pieces were written off; None where they will not be.

    Changes nothing. Raises :class:`NotFound`, and :class:`Due` where a hold has to end first.
    """
    reservation = reservations.find_reservation(work.session, reservation_id)
    refuse_over(work, of_lots=None if reserve_next else [reservation.lot_id])
    pieces = reservation.promised if quantity is None else quantity
    if pieces > reservation.promised or reservation.promised == 0:
        return None
    job = work.session.get_one(Job, reservation.job_id)
    held_now = held(work.session, [job])
    ground = ground_of(work, job, held_now)
    found = _next(work, job, reservation, without(held_now, reservation.id, pieces))
    takings = _so_many(found.takings, min(found.lacks, pieces))
    lots = [work.session.get_one(Lot, taking.lot_id) for taking in takings]
    promises = [
        NewPromise(
            lot.id,
            taking.quantity,
            job.id,
            found.need.id if found.need else None,
            taking.verdict,
            taking.why,
            version=lot.version,
            margins=taking.margins,
            is_alone=lot.donor_id is None,
            pinned=lot.donor_id is not None,
        )
        for lot, taking in zip(lots, takings, strict=True)
    ]
    fixed = inside(work.session, [lot.id for lot in lots if lot.donor_id is not None])
    return Spoiling(
        ground,
        reservation.promised,
        pieces,
        found,
        promises,
        [lot.id for lot in (*lots, *fixed)],
        _declined(work, job),
        how_long(work),
    )


def _declined(work: Work, job: Job) -> str:
    try:
        refuse_declined(work.session, job)
    except Conflict as refusal:
        return refusal.detail
    return ""


def spoil(
    work: Work,
    found: Spoiling | None,
    reservation_id: int,
    quantity: int | None = None,
    note: str = "",
    *,
    reserve_next: bool = False,
) -> tuple[Reservation, Next]:
    """Write off pieces ruined at fitting, and say what would do in their place, or promise that.

    All of it is promised or none; where none can be had the pieces are spoiled all the same, and
    the answer says why. Raises :class:`NotFound` and :class:`Conflict`.
    """
    if found is not None:
        found.ground.lock(work)
    also = found.lots if found is not None and reserve_next else ()
    reservation = reservations.spoil(work, reservation_id, quantity, note, also)
    if found is None or reservation.promised != found.promised - found.pieces:
        raise Stale
    if not reserve_next:
        return reservation, found.next
    return reservation, _reserved(work, found, note)


def _next(work: Work, job: Job, reservation: Reservation, pieces: Sequence[HeldPiece]) -> Next:
    lot = work.session.get_one(Lot, reservation.lot_id)
    found = Next(job, lot.kind)
    plans = plan_job(work, job, pieces).needs
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


def _reserved(work: Work, spoiling: Spoiling, note: str) -> Next:
    """Promise what was chosen, its lots being locked; say so, or why there is nothing."""
    found = spoiling.next
    if not spoiling.promises or found.need is None:
        return replace(found, why=f"{found.why}; nothing was reserved")
    promises = [replace(each, note=note) for each in spoiling.promises]
    refused = spoiling.declined
    made = None
    if not refused:
        try:
            made = promise_all(work, promises, spoiling.lasts)
        except Conflict as refusal:
            refused = refusal.detail
    if made is None:
        if not refused and not work.is_last:
            raise Stale
        return replace(found, why=f"{found.why}; nothing was reserved: {refused or OUTRUN}")
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
