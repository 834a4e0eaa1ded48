"""Promising pieces to a job: the best set for all its open needs, or a lot that a person names.

What would fit is worked out first, with nothing locked. Under the lock it is compared with what it
rests on, and only then what depends on balances is decided: which need is open, and whether there
are pieces left.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any, Final

from sqlalchemy import bindparam, select
from sqlalchemy.orm import lazyload

from sparewell.database.transaction import locked_rows
from sparewell.errors import Broken, Conflict, Impossible, Problem
from sparewell.extend.declarations import Verdict
from sparewell.extend.pen_materials import materials_of
from sparewell.fitting.judging import TAKEN_BY_ITSELF, judge_lot
from sparewell.fitting.materials import Suiting
from sparewell.jobs.agreed import refuse_declined
from sparewell.jobs.ground import Ground, NeedPieces, covers_now, ground_of
from sparewell.jobs.held import HeldPiece, held
from sparewell.jobs.inputs import (
    fills,
    missing_inputs,
    run_for,
    settled_beside,
    settling_needs,
    settling_pieces,
)
from sparewell.jobs.tables import Job, Need
from sparewell.lots.conditions import Condition
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.planning import plan_job
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired, refuse_over
from sparewell.reservations.promising import Margins, NewPromise, how_long, promise_all
from sparewell.reservations.tables import Reservation
from sparewell.work import Stale, Work

OUTRUN: Final = "others were faster each time; look at the plan again"
_SUITS = frozenset(verdict.value for verdict in TAKEN_BY_ITSELF)
_Said = tuple[str | None, str | None, Margins | None]
_NOTHING: _Said = (None, None, None)
# A piece is judged by itself, without its part and its place.
_LOT: Final = select(Lot).where(Lot.id == bindparam("lot_id")).options(lazyload("*"))


@dataclass(frozen=True)
class BestSet:
    """What would cover every open need of a job, and the lots that it is taken from."""

    job: Job
    ground: Ground
    promises: Sequence[NewPromise]
    lots: Mapping[int, Lot]
    lasts: timedelta | None


@dataclass(frozen=True)
class NamedLot:
    """A lot that a person names for a job, with what is fixed in it, and what is said of it.

    `verdicts` are by need, and under None for a piece that is extra; `fills` is how many fill the
    place of a need, where that is known.
    """

    job: Job
    ground: Ground
    lot: Lot
    family: Sequence[int]
    verdicts: Mapping[int | None, _Said]
    fills: Mapping[int, int | None]
    lasts: timedelta | None

    @property
    def lots(self) -> Mapping[int, Lot]:
        """The lot by its id."""
        return {self.lot.id: self.lot}


def prepare(work: Work, job: Job, said: Mapping[str, Any]) -> BestSet | NamedLot:
    """Work out what is to be reserved: what is said names a lot, or else the best set is wanted.

    Changes nothing. Raises :class:`Conflict` where nothing can be reserved, naming what is short,
    :class:`Impossible`, and :class:`Due` where a hold has to end first.
    """
    lot_id: int | None = said.get("lot")
    return best_set(work, job) if lot_id is None else named_lot(work, job, lot_id)


def promise(
    work: Work, found: BestSet | NamedLot, said: Mapping[str, Any]
) -> tuple[list[Reservation], list[str]]:
    """Reserve what was worked out, all of it or nothing; return it, and what is to be minded."""
    if isinstance(found, BestSet):
        made = _promise_best(work, found, said.get("note", ""))
    else:
        made = _promise_named(work, found, **{name: said[name] for name in said if name != "lot"})
    return made, _warnings(found.lots, made)


def reserve(work: Work, job: Job, **said: Any) -> list[Reservation]:
    """Work it out and reserve it in one unit of work, for whoever is alone."""
    return promise(work, prepare(work, job, said), said)[0]


def best_set(work: Work, job: Job) -> BestSet:
    """Work out what would cover every open need that is not optional."""
    pieces = held(work.session, [job])
    ground = ground_of(work, job, pieces)
    refuse_declined(work.session, job)
    refuse_over(work)
    plans = _open_plans(work, job, pieces)
    lots = {
        taking.lot_id: work.session.get_one(Lot, taking.lot_id)
        for plan in plans
        for taking in plan.best
    }
    promises = [
        NewPromise(
            taking.lot_id,
            taking.quantity,
            job.id,
            plan.need.id,
            taking.verdict,
            taking.why,
            version=lots[taking.lot_id].version,
            margins=taking.margins,
            is_alone=lots[taking.lot_id].donor_id is None,
        )
        for plan in plans
        for taking in plan.best
    ]
    return BestSet(job, ground, promises, lots, how_long(work))


def _promise_best(work: Work, found: BestSet, note: str) -> list[Reservation]:
    found.ground.lock(work)
    promises = [replace(each, note=note) for each in found.promises]
    made = promise_all(work, promises, found.lasts)
    if made is not None:
        return made
    if work.is_last:
        raise Conflict(OUTRUN)
    raise Stale


def _warnings(lots: Mapping[int, Lot], made: Sequence[Reservation]) -> list[str]:
    """Return a warning for each promised piece that nobody has looked at, or that is extra."""
    said = []
    for row in made:
        lot = lots[row.lot_id]
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


def _open_plans(work: Work, job: Job, pieces: Sequence[HeldPiece]) -> list[NeedPlan]:
    """Return the plans of the open needs that are not optional, which are not short."""
    plans = [
        plan
        for plan in plan_job(work, job, pieces).needs
        if not plan.need.optional and plan.cover.remaining(plan.need)
    ]
    if not plans:
        raise Conflict(f"{job.number} has no open need: {_why_nothing_is_open(job)}")
    _refuse_short(job, plans)
    return plans


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


def named_lot(work: Work, job: Job, lot_id: int) -> NamedLot:
    """Judge a lot that a person names by each need that it may be for."""
    pieces = settling_pieces(work, job)
    ground = ground_of(work, job, pieces, settling_needs(work, job))
    refuse_declined(work.session, job)
    lot = work.session.scalar(_LOT, {"lot_id": lot_id})
    if lot is None:
        raise Impossible.at("/lot", f"there is no bag {lot_id}")
    fixed = [] if lot.donor_id is None else inside(work.session, [lot.id])
    family = [lot.id, *(each.id for each in fixed)]
    refuse_over(work, of_lots=family, job_id=job.id)
    of_kind = [need for need in job.needs if need.kind == lot.kind]
    settled = {need.id: settled_beside(work, job, need, pieces) for need in of_kind}
    return NamedLot(
        job,
        ground,
        lot,
        family,
        _verdicts(work, job, lot, settled),
        {need.id: fills(work, job, need, settled[need.id]) for need in of_kind},
        how_long(work),
    )


def _promise_named(
    work: Work,
    found: NamedLot,
    quantity: int | None = None,
    need: int | None = None,
    override: str | None = None,
    note: str = "",
) -> list[Reservation]:
    """Reserve pieces of a lot that a person names; one that is refused needs a reason.

    They cover the need that is named, or the one of their kind that they suit, first; the rest is
    extra. The verdict is kept with it, and so is the reason. Raises :class:`Impossible` where the
    piece is refused and `override` does not say why it is taken all the same.
    """
    lot = found.lot
    wanted, remaining = _need_for(found, found.ground.lock(work), need)
    verdict, why, margins = found.verdicts[wanted.id if wanted else None]
    is_refused = verdict == Verdict.REFUSED
    if is_refused and override is None:
        raise Impossible.at(
            "/override",
            f"bag {lot.id} is refused: {why}; to take it all the same, say why under override",
        )
    new = NewPromise(
        lot.id,
        quantity or remaining or 1,
        found.job.id,
        wanted.id if wanted else None,
        verdict,
        why,
        note,
        override if is_refused else None,
        lot.version,
        lot.donor_id is None,
        margins,
    )
    return _promise_or_refuse(work, found, new)


def _promise_or_refuse(work: Work, found: NamedLot, new: NewPromise) -> list[Reservation]:
    """Promise pieces of one lot, or say who has them. Raises :class:`Conflict`."""
    made = promise_all(work, [new], found.lasts)
    if made is not None:
        return made
    # Holds may be over, and pieces have come back: what is said has to hold while it is said.
    lapse_expired(work, of_lots=found.family, job_id=new.job_id, with_lots=found.family)
    (lot,) = locked_rows(work.session, Lot, [new.lot_id])
    if lot.version != new.version:
        raise Stale
    made = promise_all(work, [new], found.lasts)
    if made is not None:
        return made
    holders = reservations.open_on(work.session, lot.id)
    holding = sorted({holder.job for holder in holders})
    raise Conflict(
        f"{new.quantity} of bag {lot.id} wanted, and {lot.available} available"
        + (f"; the others are promised to {', '.join(holding)}" if holding else ""),
        [Problem("/quantity", f"at most {lot.available}", {"jobs": holding})],
    )


def _need_for(
    found: NamedLot, present: Collection[NeedPieces], need_id: int | None
) -> tuple[Need | None, int]:
    """Return the need that pieces of a lot would cover, and how much of it is open."""
    job, lot = found.job, found.lot
    cover = {
        row_id: replace(each, fills=found.fills.get(row_id))
        for row_id, each in covers_now(found.ground.need_ids, present).items()
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
    else:
        suited = {need.id for need in needs if found.verdicts[need.id][0] in _SUITS}
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


def _verdicts(
    work: Work, job: Job, lot: Lot, settled: Mapping[int, Mapping[str, int]]
) -> dict[int | None, _Said]:
    """Return the verdict on a lot by each need of its kind, else by the pen's materials.

    An extra piece is judged by the need that it suits best.
    """
    found = {
        need.id: _verdict(work, job, need, lot, settled[need.id])
        for need in job.needs
        if need.id in settled
    }
    judged = [each for each in found.values() if each[0] is not None]
    suits = [each for each in judged if each[0] in _SUITS]
    materials = materials_of(job.pen.materials, job.pen.components)
    against = Suiting(work.declared, materials).against(lot.kind, lot.material)
    otherwise: _Said = (Verdict.REFUSED.value, against, None) if against else _NOTHING
    said: dict[int | None, _Said] = {
        need_id: otherwise if each[0] is None else each for need_id, each in found.items()
    }
    return said | {None: next(iter([*suits, *judged]), otherwise)}


def _verdict(work: Work, job: Job, need: Need, lot: Lot, settled: Mapping[str, int]) -> _Said:
    if need.calculator not in work.declared.calculators:
        return _NOTHING
    try:
        run = run_for(work, job, need, settled)
        if not run.calculator.fits_pieces or missing_inputs(run):
            return _NOTHING
        judged = judge_lot(work, run, lot)
    except (Impossible, Broken):
        return _NOTHING
    return judged.verdict.value, judged.why, judged.room
