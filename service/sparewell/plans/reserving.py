"""Promising pieces to a job: the best set for all its open needs, or a lot that a person names.

What would fit is worked out first, with nothing locked. Under the lock it is compared with what it
rests on, and only then what depends on balances is decided: which need is open, and whether there
are pieces left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any, Final

from sparewell.errors import Conflict, Problem
from sparewell.fitting.instead import Choice
from sparewell.jobs.agreed import refuse_declined
from sparewell.jobs.ground import Ground, ground_of
from sparewell.jobs.held import HeldPiece, held
from sparewell.jobs.inputs import settles
from sparewell.jobs.tables import Job, Need
from sparewell.lots.conditions import Condition
from sparewell.lots.tables import Lot
from sparewell.plans.chains import Moving, Room, RoomMaker
from sparewell.plans.moving import MovedPromise, settle
from sparewell.plans.naming import (
    NamedLot,
    made_or_stale,
    named_lot,
    outrun_at_last,
    promise_named,
    with_room,
)
from sparewell.plans.need_plans import NeedPlan, Taking
from sparewell.plans.planning import Plan, plan_job
from sparewell.reservations.lapsing import refuse_over
from sparewell.reservations.promising import NewPromise, how_long, promise_all
from sparewell.reservations.settling import Move
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

_SAID_OF_A_LOT: Final = frozenset({"quantity", "need", "override", "note"})


@dataclass(frozen=True)
class BestSet:
    """What would cover every open need of a job, and the lots that it is taken from."""

    job: Job
    ground: Ground
    promises: Sequence[NewPromise]
    lots: Mapping[int, Lot]
    lasts: timedelta | None
    room: Room = field(default_factory=Room)


@dataclass(frozen=True)
class Promised:
    """What was promised, what is to be minded of it, and which promises moved aside for it."""

    reservations: list[Reservation]
    warnings: list[str]
    moved: list[MovedPromise]


@dataclass(frozen=True)
class WouldMove:
    """A promise that would move aside, and from which lot."""

    move: Move
    lot_id: int


def prepare(work: Work, job: Job, said: Mapping[str, Any]) -> BestSet | NamedLot:
    """Work out what is to be reserved: what is said names a lot, or else the best set is wanted.

    Changes nothing. Raises :class:`Conflict` where nothing can be reserved, naming what is short,
    :class:`Impossible`, and :class:`Due` where a hold has to end first.
    """
    lot_id: int | None = said.get("lot")
    moving: Moving = said.get("move", Moving.MINE)
    found: BestSet | NamedLot
    if lot_id is None:
        found = best_set(work, job, moving)
    else:
        found = with_room(work, named_lot(work, job, lot_id), said, moving)
    if "expires_in" in said:
        found = replace(found, lasts=timedelta(minutes=said["expires_in"]))
    return found


def promise(work: Work, found: BestSet | NamedLot, said: Mapping[str, Any]) -> Promised:
    """Reserve what was worked out, all of it or nothing."""
    if isinstance(found, BestSet):
        made = _promise_best(work, found, said.get("note", ""))
    else:
        named = {name: said[name] for name in said if name in _SAID_OF_A_LOT}
        made = promise_named(work, found, **named)
    own = made[: len(made) - len(found.room.moves)]
    moved = [
        MovedPromise(move, found.room.from_lots[move.reservation_id], successor)
        for move, successor in zip(found.room.moves, made[len(own) :], strict=True)
    ]
    return Promised(own, _warnings(found.lots, own), moved)


def reserve(work: Work, job: Job, **said: Any) -> list[Reservation]:
    """Work it out and reserve it in one unit of work, for whoever is alone."""
    return promise(work, prepare(work, job, said), said).reservations


def best_set(work: Work, job: Job, moving: Moving = Moving.MINE) -> BestSet:
    """Work out what would cover every open need that is not optional, if others move aside."""
    pieces = held(work.session, [job])
    ground = ground_of(work, job, pieces)
    refuse_declined(work.session, job)
    refuse_over(work)
    plans = _open_plans(work, job, pieces)
    room, freed = _room_for(work, job, plans, moving)
    lots: dict[int, Lot] = {}
    promises = []
    for plan in plans:
        for taking in _together([*plan.best, *freed.get(plan.need.id, ())]):
            lot = lots[taking.lot_id] = work.session.get_one(Lot, taking.lot_id)
            promises.append(_new_promise(job, plan.need, taking, lot))
    return BestSet(job, ground, promises, lots, how_long(work), room)


def _new_promise(job: Job, need: Need, taking: Taking, lot: Lot) -> NewPromise:
    is_alone = lot.donor_id is None
    return NewPromise(
        lot.id,
        taking.quantity,
        job.id,
        need.id,
        taking.verdict,
        taking.why,
        version=lot.version,
        is_alone=is_alone,
        margins=taking.margins,
        pinned=not is_alone,
    )


def _together(takings: Sequence[Taking]) -> Iterable[Taking]:
    """Return takings with those of one lot as one."""
    found: dict[int, Taking] = {}
    for each in takings:
        before = found.get(each.lot_id)
        quantity = each.quantity + (before.quantity if before else 0)
        found[each.lot_id] = replace(before or each, quantity=quantity)
    return found.values()


def _room_for(
    work: Work, job: Job, plans: Sequence[NeedPlan], moving: Moving
) -> tuple[Room, Mapping[int, Sequence[Taking]]]:
    """Make room where something is short; return what moves, and what is taken of it by need.

    Raises :class:`Conflict` where it stays short, with what was tried.
    """
    short = [plan for plan in plans if plan.short]
    if not short:
        return Room(), {}
    if moving is Moving.NONE:
        raise _is_short(job, short, ())
    taken: dict[int, int] = {}
    for taking in (taking for plan in plans for taking in plan.best):
        taken[taking.lot_id] = taken.get(taking.lot_id, 0) + taking.quantity
    maker = RoomMaker(work, job, moving, taken)
    freed = {plan.need.id: _freed_for(work, job, plan, maker) for plan in short}
    lacking = [
        plan for plan in short if sum(each.quantity for each in freed[plan.need.id]) < plan.short
    ]
    if lacking:
        raise _is_short(job, lacking, maker.tried)
    return maker.room, freed


def _freed_for(work: Work, job: Job, plan: NeedPlan, maker: RoomMaker) -> list[Taking]:
    """Return what a need takes of pieces that come free; what others are judged by stays put."""
    if plan.run is None or plan.found is None or settles(work, plan.need):
        return []
    lacks, takings = plan.short, []
    promised = Choice(work, plan.run, job.number).promised
    maker.look_up(each.lot for each in promised)
    for each in promised:
        pieces = maker.free(each.lot, lacks) if lacks else 0
        if pieces:
            takings.append(Taking(each.lot.id, pieces, each.verdict.value, each.why, each.room))
            lacks -= pieces
    return takings


def would_move(work: Work, job: Job, plan: Plan) -> list[WouldMove]:
    """Return the promises of the same person that would move aside for what a plan lacks.

    None are where that would not do, or where anything else is in the way.
    """
    lacking = [
        each for each in plan.needs if not each.need.optional and each.cover.remaining(each.need)
    ]
    if plan.is_outdone or not plan.is_decided or not any(each.short for each in lacking):
        return []
    try:
        room, _ = _room_for(work, job, lacking, Moving.MINE)
    except Conflict:
        return []
    return [WouldMove(move, room.from_lots[move.reservation_id]) for move in room.moves]


def _promise_best(work: Work, found: BestSet, note: str) -> list[Reservation]:
    promises = [replace(each, note=note) for each in found.promises]
    room = found.room
    if room.moves:
        grounds = [found.ground, *room.grounds]
        with outrun_at_last(work):
            return made_or_stale(work, settle(work, grounds, room.moves, promises, found.lasts))
    found.ground.lock(work)
    return made_or_stale(work, promise_all(work, promises, found.lasts))


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
    """Return the plans of the open needs that are not optional."""
    plans = [
        plan
        for plan in plan_job(work, job, pieces).needs
        if not plan.need.optional and plan.cover.remaining(plan.need)
    ]
    if not plans:
        raise Conflict(f"{job.number} has no open need: {_why_nothing_is_open(job)}")
    return plans


def _is_short(job: Job, short: Sequence[NeedPlan], tried: Sequence[Problem]) -> Conflict:
    """Return the refusal that names each short need, and which promises do not move for it."""
    return Conflict(
        f"{job.number} is short, so nothing was reserved: "
        + "; ".join(_sentence(plan) for plan in short),
        [
            *(
                Problem(
                    "",
                    _sentence(plan),
                    {"need": plan.need.id, "kind": plan.need.kind, "short": plan.short},
                )
                for plan in short
            ),
            *tried,
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
