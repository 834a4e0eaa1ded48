"""A lot that a person names for a job: judged beforehand, and promised unless another has it.

What a person names stays there: the promise is pinned.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
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
from sparewell.jobs.ground import (
    Ground,
    NeedPieces,
    covers_now,
    ground_of,
    lock_each,
    present_pieces,
)
from sparewell.jobs.inputs import (
    fills,
    missing_inputs,
    run_for,
    settled_beside,
    settling_needs,
    settling_pieces,
)
from sparewell.jobs.tables import Job, Need
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.plans.chains import Moving, Room, RoomMaker
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired, refuse_over
from sparewell.reservations.promising import Margins, NewPromise, how_long, promise_all
from sparewell.reservations.settling import replace_all
from sparewell.reservations.tables import Reservation
from sparewell.work import Stale, Work

OUTRUN: Final = "others were faster each time; look at the plan again"
_SUITS = frozenset(verdict.value for verdict in TAKEN_BY_ITSELF)
_Said = tuple[str | None, str | None, Margins | None]
_NOTHING: _Said = (None, None, None)
# A piece is judged by itself, without its part and its place.
_LOT: Final = select(Lot).where(Lot.id == bindparam("lot_id")).options(lazyload("*"))


@dataclass(frozen=True)
class NamedLot:
    """A lot that a person names for a job, with what is fixed in it, and what is said of it.

    `verdicts` are by need, and under None for a piece that is extra; `fills` is how many fill the
    place of a need, where that is known. `room` is made by promises on it that move aside; where it
    is too little, `tried` says why others stay, and without either nobody has looked.
    """

    job: Job
    ground: Ground
    lot: Lot
    family: Sequence[int]
    verdicts: Mapping[int | None, _Said]
    fills: Mapping[int, int | None]
    lasts: timedelta | None
    moving: Moving = Moving.NONE
    room: Room = field(default_factory=Room)
    tried: Sequence[Problem] | None = None

    @property
    def lots(self) -> Mapping[int, Lot]:
        """The lot by its id."""
        return {self.lot.id: self.lot}


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


def with_room(work: Work, found: NamedLot, said: Mapping[str, Any], moving: Moving) -> NamedLot:
    """Look for promises on a named lot that can move aside, where too few pieces are free."""
    found = replace(found, moving=moving)
    job, lot = found.job, found.lot
    most = max(
        (need.at_most or need.quantity for need in job.needs if need.kind == lot.kind), default=1
    )
    asked: int | None = said.get("quantity")
    if moving is Moving.NONE or lot.available >= (asked or most):
        return found
    present = present_pieces(work.session, found.ground.need_ids)
    need, remaining = _need_for(found, present, said.get("need"))
    lacks = (asked or remaining or 1) - lot.available
    if lacks <= 0 or _why_refused(found, need, said.get("override")):
        return found
    maker = RoomMaker(work, job, moving, {lot.id: lot.available})
    if maker.free(lot, lacks) < lacks:
        return replace(found, tried=maker.tried)
    return replace(found, room=maker.room, tried=())


def promise_named(
    work: Work,
    found: NamedLot,
    quantity: int | None = None,
    need: int | None = None,
    override: str | None = None,
    note: str = "",
) -> list[Reservation]:
    """Reserve pieces of a lot that a person names; one that is refused needs a reason.

    They cover the need that is named, or the one of their kind that they suit, first; the rest is
    extra. The verdict is kept with it, and so is the reason. What moved aside for it comes behind.
    Raises :class:`Impossible` where the piece is refused and `override` does not say why it is
    taken all the same.
    """
    lot = found.lot
    wanted, remaining = _need_for(found, _locked(work, found), need)
    verdict, why, margins = found.verdicts[wanted.id if wanted else None]
    refused = _why_refused(found, wanted, override)
    if refused is not None:
        raise Impossible.at(
            "/override",
            f"bag {lot.id} is refused: {refused}; to take it all the same, say why under override",
        )
    new = NewPromise(
        lot.id,
        quantity or remaining or 1,
        found.job.id,
        wanted.id if wanted else None,
        verdict,
        why,
        note,
        override if verdict == Verdict.REFUSED else None,
        lot.version,
        lot.donor_id is None,
        margins,
        pinned=True,
    )
    if not found.room.moves:
        return _promise_or_refuse(work, found, new)
    with outrun_at_last(work):
        return made_or_stale(work, replace_all(work, found.room.moves, [new], found.lasts))


def _locked(work: Work, found: NamedLot) -> Collection[NeedPieces]:
    """Lock the job, and those whose promises move; return what its needs have now."""
    if not found.room.moves:
        return found.ground.lock(work)
    with outrun_at_last(work):
        return lock_each(work, [found.ground, *found.room.grounds])[found.job.id]


def _why_refused(found: NamedLot, need: Need | None, override: str | None) -> str | None:
    """Return why a lot is refused for a need, unless a person takes it all the same."""
    verdict, why, _ = found.verdicts[need.id if need else None]
    return why if verdict == Verdict.REFUSED and override is None else None


def made_or_stale(work: Work, made: list[Reservation] | None) -> list[Reservation]:
    """Return what was promised; where others were faster, it is worked out once more."""
    if made is not None:
        return made
    if work.is_last:
        raise Conflict(OUTRUN)
    raise Stale


@contextmanager
def outrun_at_last(work: Work) -> Iterator[None]:
    """Say of what is stale for the last time that others were faster."""
    try:
        yield
    except Stale:
        if work.is_last:
            raise Conflict(OUTRUN) from None
        raise


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
    if found.moving is not Moving.NONE and found.tried is None and not work.is_last:
        raise Stale
    holders = reservations.open_on(work.session, lot.id)
    holding = sorted({holder.job for holder in holders})
    raise Conflict(
        f"{new.quantity} of bag {lot.id} wanted, and {lot.available} available"
        + (f"; the others are promised to {', '.join(holding)}" if holding else ""),
        [
            Problem("/quantity", f"at most {lot.available}", {"jobs": holding}),
            *(found.tried or ()),
        ],
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
    need = job.need(need_id)
    if need is None:
        raise Impossible.at("/need", f"{job.number} has no need {need_id}")
    if need.kind != lot.kind:
        raise Impossible.at(
            "/need", f"need {need_id} wants {need.kind}, and bag {lot.id} is {lot.kind}"
        )
    return need


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
