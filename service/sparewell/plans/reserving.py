"""Promising pieces to a job: the best set for all its open needs, or a lot that a person names."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.database.transaction import locked
from sparewell.errors import Broken, Conflict, Impossible, Problem
from sparewell.extend.declarations import Verdict
from sparewell.extend.pen_materials import materials_of
from sparewell.fitting.judging import TAKEN_BY_ITSELF, judge_lot
from sparewell.fitting.materials import Suiting
from sparewell.jobs.agreed import refuse_declined
from sparewell.jobs.inputs import cover_filled, missing_inputs, run_for
from sparewell.jobs.operations import covers, locked_open
from sparewell.jobs.tables import Job, Need
from sparewell.lots.conditions import Condition
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.planning import plan_job
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.reservations.operations import NewPromise
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

LOOKS = 4
_SUITS = frozenset(verdict.value for verdict in TAKEN_BY_ITSELF)


def reserve(
    work: Work,
    job: Job,
    *,
    lot: int | None = None,
    quantity: int | None = None,
    need: int | None = None,
    override: str | None = None,
    note: str = "",
) -> list[Reservation]:
    """Reserve pieces of the lot that is named, or else the best set for every open need."""
    if lot is None:
        return reserve_best(work, job, note)
    return reserve_lot(work, job, lot, quantity, note, need_id=need, override=override)


def reserve_best(work: Work, job: Job, note: str = "") -> list[Reservation]:
    """Reserve the best set for every open need that is not optional: all of it or nothing.

    When somebody else takes a piece between the look and the promise, the plan is made anew.
    Raises :class:`Conflict` naming each need that is short.
    """
    job = locked_open(work, job)
    refuse_declined(work.session, job)
    wanted: set[int] = set()
    for _ in range(LOOKS):
        with work.session.begin_nested() as look:
            lapsed = lapse_expired(work, with_lots=wanted)
            promises = _best(work, job, note)
            lots = {promise.lot_id for promise in promises}
            lots |= {lot.id for lot in inside(work.session, lots)}
            # Lots are locked in the order of their ids: with lapsed ones, these have to be too.
            made = None
            if lots <= wanted or not lapsed:
                made = reservations.promise_all(work, promises)
            if made is not None:
                return made
            wanted |= lots
            look.rollback()
        work.session.expire_all()
    raise Conflict("others were faster each time; look at the plan again")


def warnings_of(work: Work, made: Sequence[Reservation]) -> list[str]:
    """Return a warning for each promised piece that nobody has looked at, or that is extra."""
    said = []
    for row in made:
        lot = work.session.get_one(Lot, row.lot_id)
        named = f"bag {lot.id} ({lot.kind})"
        if lot.condition == Condition.UNCHECKED:
            said.append(f"{named}: nobody has looked at it yet: look before the pen is opened")
        if row.need_id is None:
            said.append(f"{named}: {row.quantity} extra: no need of the job lacks it")
    return said


def _why_nothing_is_open(job: Job) -> str:
    undecided = [
        f"need {need.id} ({need.kind})"
        for need in job.needs
        if not need.decided and need.dropped_at is None
    ]
    if not undecided:
        return "all that must be had is promised or used"
    return f"{', '.join(undecided)} must be decided first, once the pen is open"


def _best(work: Work, job: Job, note: str) -> list[NewPromise]:
    """Return what would cover every open need that is not optional. Raises :class:`Conflict`."""
    plans = [
        plan
        for plan in plan_job(work, job).needs
        if not plan.need.optional and plan.cover.remaining(plan.need)
    ]
    if not plans:
        raise Conflict(f"{job.number} has no open need: {_why_nothing_is_open(job)}")
    _refuse_short(job, plans)
    return [
        NewPromise(
            taking.lot_id,
            taking.quantity,
            job.id,
            plan.need.id,
            taking.verdict,
            taking.why,
            note,
        )
        for plan in plans
        for taking in plan.best
    ]


def _refuse_short(job: Job, plans: Sequence[NeedPlan]) -> None:
    short = [plan for plan in plans if plan.short]
    if not short:
        return
    raise Conflict(
        f"{job.number} is short, so nothing was reserved: "
        + "; ".join(_sentence(plan) for plan in short),
        [
            Problem(
                "",
                _sentence(plan),
                {"need": plan.need.id, "kind": plan.need.kind, "short": plan.short},
            )
            for plan in short
        ],
    )


def _sentence(plan: NeedPlan) -> str:
    wanted = f"need {plan.need.id} ({plan.need.kind}) lacks {plan.short}"
    if plan.filling:
        wanted += f" ({plan.filling})"
    if plan.problem:
        return f"{wanted}: {plan.problem}"
    if plan.found and plan.found.refused:
        first = plan.found.refused[0]
        return f"{wanted}: bag {first.lot.id}, the nearest, will not do: {first.why}"
    return f"{wanted}: nothing of the kind is in hand"


def reserve_lot(
    work: Work,
    job: Job,
    lot_id: int,
    quantity: int | None,
    note: str = "",
    *,
    need_id: int | None = None,
    override: str | None = None,
) -> list[Reservation]:
    """Reserve pieces of a lot that a person names; one that is refused needs a reason.

    They cover the need that is named, or the one of their kind that they suit, first; the rest is
    extra. The verdict is kept with it, and so is the reason. Raises :class:`Impossible` where the
    piece is refused and `override` does not say why it is taken all the same.
    """
    job = locked_open(work, job)
    refuse_declined(work.session, job)
    lot = work.session.get(Lot, lot_id)
    if lot is None:
        raise Impossible.at("/lot", f"there is no bag {lot_id}")
    family = [lot.id, *(each.id for each in inside(work.session, [lot.id]))]
    lapse_expired(work, of_lots=family, job_id=job.id, with_lots=family)
    need, remaining = _need_for(work, job, lot, need_id)
    pieces = quantity or remaining or 1
    verdict, why = _verdict_on_named(work, job, need, lot)
    is_refused = verdict == Verdict.REFUSED
    if is_refused and override is None:
        raise Impossible.at(
            "/override",
            f"bag {lot.id} is refused: {why}; to take it all the same, say why under override",
        )
    promise = NewPromise(
        lot.id,
        pieces,
        job.id,
        need.id if need else None,
        verdict,
        why,
        note,
        override if is_refused else None,
    )
    made = reservations.promise_all(work, [promise])
    if made is None:
        # Pieces may have come back since: what is said of the lot has to hold while it is said.
        lot = locked(work.session, lot)
        made = reservations.promise_all(work, [promise])
    if made is None:
        holders = reservations.open_on(work.session, lot.id)
        holding = sorted({holder.job for holder in holders})
        raise Conflict(
            f"{pieces} of bag {lot.id} wanted, and {lot.available} available"
            + (f"; the others are promised to {', '.join(holding)}" if holding else ""),
            [Problem("/quantity", f"at most {lot.available}", {"jobs": holding})],
        )
    return made


def _need_for(work: Work, job: Job, lot: Lot, need_id: int | None) -> tuple[Need | None, int]:
    """Return the need that pieces of a lot would cover, and how much of it is open."""
    cover = {
        need.id: cover_filled(work, job, need, found)
        for need, found in zip(job.needs, covers(work.session, [job]).values(), strict=True)
    }
    needs = [need for need in job.needs if need.kind == lot.kind and cover[need.id].remaining(need)]
    if need_id is not None:
        need = _named(job, need_id, lot)
        if need not in needs:
            raise Conflict(
                f"need {need.id} ({need.kind}) is {cover[need.id].state(need)}, so nothing more is "
                "reserved for it; leave the need out to reserve extra pieces",
                [Problem("/need", "take an open need", {"need": need.id})],
            )
    elif not needs:
        return None, 0
    elif len(needs) == 1:
        need = needs[0]
    else:
        suited = {need.id for need in needs if _verdict(work, job, need, lot)[0] in _SUITS}
        need = min(needs, key=lambda need: (need.id not in suited, need.optional, need.id))
    return need, cover[need.id].remaining(need)


def _named(job: Job, need_id: int, lot: Lot) -> Need:
    for need in job.needs:
        if need.id == need_id:
            if need.kind != lot.kind:
                raise Impossible.at(
                    "/need", f"need {need_id} wants {need.kind}, and bag {lot.id} is {lot.kind}"
                )
            return need
    raise Impossible.at("/need", f"{job.number} has no need {need_id}")


def _verdict_on_named(
    work: Work, job: Job, need: Need | None, lot: Lot
) -> tuple[str | None, str | None]:
    """Return the verdict on a lot that a person names: by its need, else by the pen's materials.

    An extra piece is judged by the need of its kind that it suits best.
    """
    of_kind = [each for each in job.needs if each.kind == lot.kind]
    found = [_verdict(work, job, each, lot) for each in ([need] if need else of_kind)]
    suits = [each for each in found if each[0] in _SUITS]
    judged = [each for each in found if each[0] is not None]
    if suits or judged:
        return (suits or judged)[0]
    materials = materials_of(job.pen.materials, job.pen.components)
    against = Suiting(work.declared, materials).against(lot.kind, lot.material)
    return (Verdict.REFUSED.value, against) if against else (None, None)


def _verdict(work: Work, job: Job, need: Need | None, lot: Lot) -> tuple[str | None, str | None]:
    if need is None or need.calculator not in work.declared.calculators:
        return None, None
    try:
        run = run_for(work, job, need)
        if not run.calculator.fits_pieces or missing_inputs(run):
            return None, None
        judged = judge_lot(work, run, lot)
    except (Impossible, Broken):
        return None, None
    return judged.verdict.value, judged.why
