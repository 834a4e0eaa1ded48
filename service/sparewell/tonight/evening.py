"""The evening: which pens can be finished with what lies in the drawers, and what others wait for.

All open jobs are looked at together, so that no piece is counted on twice. Takes nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from sqlalchemy import select

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import Conflict, Problem
from sparewell.jobs.fetching import as_walked
from sparewell.jobs.held import HeldPiece
from sparewell.jobs.pace import Pace, pace_of
from sparewell.jobs.tables import Job, Need
from sparewell.lots.tables import Lot
from sparewell.plans.pooling import Table, Terms, laid_out
from sparewell.plans.sharing import ChosenShare, moved
from sparewell.plans.wanting import (
    Sizer,
    Waits,
    WaitsFor,
    Wanting,
    count_open,
    open_jobs,
    wanting,
)
from sparewell.reservations.lapsing import refuse_over
from sparewell.reservations.promising import Margins
from sparewell.reservations.tables import Reservation
from sparewell.tonight.short import Leftovers, Short
from sparewell.tonight.solver import TIME_LIMIT_SECONDS, best_share
from sparewell.work import Work

MOST_WAITED_FOR = 200


@dataclass(frozen=True)
class Settled:
    """A promise that moves to another lot, so that its pieces can be taken."""

    reservation: Reservation
    from_lot: Lot
    lot: Lot
    verdict: str
    why: str
    margins: Margins

    @property
    def quantity(self) -> int:
        """How many pieces move."""
        return self.reservation.promised


@dataclass(frozen=True)
class Take:
    """Pieces that a need takes, and which promises move so that it can."""

    need: Need
    lot: Lot
    quantity: int
    verdict: str
    why: str
    margins: Margins
    settles: tuple[Settled, ...] = ()


@dataclass(frozen=True)
class Finishable:
    """A pen that can be finished: what it takes, what it holds already, and how long it takes."""

    job: Job
    takes: tuple[Take, ...]
    held: tuple[HeldPiece, ...]
    pace: Pace


@dataclass(frozen=True)
class WaitingJob:
    """A pen that has to wait: for what, and which pieces are short."""

    job: Job
    waits: tuple[Waits, ...] = ()
    short: tuple[Short, ...] = ()

    @property
    def reason(self) -> str:
        """What it waits for, in words."""
        told = [each.why for each in self.waits]
        told += [f"{each.need.kind} lacks {each.pieces}: {each.why}" for each in self.short]
        return "; ".join(told)


@dataclass(frozen=True)
class Fetch:
    """Pieces of a lot that are fetched for a job."""

    job: Job
    lot: Lot
    quantity: int


@dataclass(frozen=True)
class Stop:
    """A place on the walk along the drawers, and what is fetched there."""

    place: str
    pieces: tuple[Fetch, ...]


@dataclass(frozen=True)
class Evening:
    """All lists, each in the order of the jobs' numbers, every promise that moves, and how."""

    table: Table
    chosen: ChosenShare
    finishable: Sequence[Finishable]
    walk: Sequence[Stop]
    waiting: Mapping[WaitsFor, Sequence[WaitingJob]]
    not_tonight: Sequence[Finishable]
    settles: Sequence[Settled]

    @property
    def why_nothing(self) -> str:
        """Say why nothing is to be promised."""
        finished = [each.job.number for each in self.finishable]
        if finished:
            return f"all that {', '.join(finished)} must have is promised already"
        return "no pen can be finished tonight: GET /v1/tonight says what each waits for"

    def refuse_unfinished(self, job_ids: Iterable[int]) -> None:
        """Raise :class:`Conflict` where one of these cannot be finished, naming each reason."""
        reasons = {
            waiting.job.id: f"{waiting.job.number} waits for {on.value}: {waiting.reason}"
            for on, its in self.waiting.items()
            for waiting in its
        }
        reasons |= {each.job.id: f"{each.job.number}: no time is left" for each in self.not_tonight}
        told = [reasons[each] for each in job_ids if each in reasons]
        if told:
            raise Conflict(
                f"nothing was promised: {'; '.join(told)}",
                [Problem("/jobs", each) for each in told],
            )


def evening(
    work: Work,
    terms: Terms,
    *,
    finishing: Collection[int] | None = None,
    seconds: float = TIME_LIMIT_SECONDS,
) -> Evening:
    """Work out the evening of all open jobs; where some are named, only these are finished.

    Raises :class:`Due` where a hold has to end first, and :class:`Conflict` for a job that is not
    open.
    """
    refuse_over(work)
    jobs, sizer = open_jobs(work), Sizer(work)
    strangers = set(finishing or ()) - {job.id for job in jobs}
    if strangers:
        numbers = ", ".join(number_of(JOB_PREFIX, each) for each in sorted(strangers))
        raise Conflict(f"{numbers} is not open")
    wantings = wanting(work, jobs, sizer)
    paces = {job.id: pace_of(work, job) for job in jobs}
    minutes = {job_id: pace.hands_on_minutes for job_id, pace in paces.items()}
    table = laid_out(work, wantings, sizer, terms, minutes, finishing)
    chosen = best_share(table.workshop, seconds)
    return _lists(work, table, chosen, paces)


def refuse_many(work: Work) -> None:
    """Raise :class:`Conflict` for more jobs than are worked out while somebody waits."""
    count = count_open(work)
    if count > MOST_WAITED_FOR:
        raise Conflict(
            f"there are {count} open jobs, and up to {MOST_WAITED_FOR} are worked out at once: "
            "POST /v1/evenings answers with a place to look at"
        )


def _lists(work: Work, table: Table, chosen: ChosenShare, paces: Mapping[int, Pace]) -> Evening:
    settles, leftovers = list(_settled(table, chosen)), Leftovers(table, chosen.share)
    finishable: list[Finishable] = []
    waiting: dict[WaitsFor, list[WaitingJob]] = {on: [] for on in WaitsFor}
    not_tonight: list[Finishable] = []
    for job_id, wanted in table.wantings.items():
        job, held = wanted.job, tuple(each for each in wanted.held if each.promised)
        if job_id in chosen.share.ways:
            takes = tuple(_takes(table, chosen, wanted, settles))
            finishable.append(Finishable(job, takes, held, paces[job_id]))
            continue
        short = tuple(leftovers.shorts_of(wanted))
        if wanted.waits:
            on = min((each.on for each in wanted.waits), key=list(WaitsFor).index)
            waiting[on].append(WaitingJob(job, tuple(wanted.waits), short))
        elif short:
            waiting[WaitsFor.PART].append(WaitingJob(job, (), short))
        else:
            not_tonight.append(Finishable(job, (), held, paces[job_id]))
    walk = _walk(work, finishable, settles)
    return Evening(table, chosen, finishable, walk, waiting, not_tonight, settles)


def _walk(work: Work, finishable: Sequence[Finishable], settles: Sequence[Settled]) -> list[Stop]:
    """Return where everything lies that is to be fetched, in the order of one walk."""
    moves = {each.reservation.id: each.lot for each in settles}
    found: list[Fetch] = []
    for each in finishable:
        found += [Fetch(each.job, take.lot, take.quantity) for take in each.takes]
        for held in each.held:
            lot, left = moves.get(held.reservation_id, held.lot), held.promised - held.in_tray
            found += [Fetch(each.job, lot, left)] if left else []
    # Their places and parts are read in one go; the session knows the lots themselves.
    named = select(Lot).where(Lot.id.in_({each.lot.id for each in found}))
    work.session.scalars(named).unique().all()
    found.sort(key=lambda each: (as_walked(each.lot.place.code), each.lot.id, each.job.id))
    return [
        Stop(code, tuple(group)) for code, group in groupby(found, lambda each: each.lot.place.code)
    ]


def _settled(table: Table, chosen: ChosenShare) -> Iterator[Settled]:
    for each, option in moved(table.workshop, chosen.share):
        row, targets = table.moving[each.reservation]
        candidate = targets[option.lot]
        yield Settled(
            row,
            table.lots[each.lot],
            candidate.lot,
            candidate.verdict.value,
            candidate.why,
            candidate.room,
        )


def _takes(
    table: Table, chosen: ChosenShare, wanted: Wanting, settles: Sequence[Settled]
) -> Iterator[Take]:
    way = chosen.share.ways[wanted.job.id]
    for sized in table.ways[wanted.job.id][way].wants:
        for candidate in table.candidates[wanted.job.id, way, sized.need.id].values():
            pieces = chosen.share.takes.get((sized.need.id, candidate.lot.id), 0)
            if pieces:
                lot = candidate.lot
                yield Take(
                    sized.need,
                    lot,
                    pieces,
                    candidate.verdict.value,
                    candidate.why,
                    candidate.room,
                    tuple(each for each in settles if each.from_lot.id == lot.id),
                )
