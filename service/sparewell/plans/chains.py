"""Promises that could move aside for a job, so that none loses cover: chains at most two deep.

The job that has what is wanted takes another piece that fits it no worse; where that one is
promised, too, its job may take a third in turn, and that one must be free. Everything is worked out
with nothing locked; what it rests on is kept, so that it can be compared under the lock.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from sqlalchemy import select

from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.errors import Broken, Impossible, Problem
from sparewell.fitting.instead import Choice, is_no_worse
from sparewell.fitting.judging import Candidate
from sparewell.jobs.ground import Ground, ground_of
from sparewell.jobs.held import HeldPiece, held
from sparewell.jobs.inputs import missing_inputs, run_for, settled_beside, settles
from sparewell.jobs.tables import Job, Need
from sparewell.lots.tables import Lot
from sparewell.reservations.promising import NewPromise
from sparewell.reservations.settling import Move, may_move
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

MOST_LOOKED_AT = 24


class Moving(StrEnum):
    """Whose promises may move aside: those of one person, anybody's, or none."""

    MINE = "mine"
    ANY = "any"
    NONE = "none"


@dataclass(frozen=True)
class Room:
    """What makes room for a job: the moves, what they rest on, and from which lots they move."""

    moves: Sequence[Move] = ()
    grounds: Sequence[Ground] = ()
    from_lots: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class _Holder:
    """A job that has what is wanted, what it holds, and what may be taken for its needs instead."""

    job: Job
    pieces: Sequence[HeldPiece]
    ground: Ground
    choices: dict[int, Choice | str] = field(default_factory=dict)


class RoomMaker:
    """Looks for promises that can move aside for one job; `taken` is what that job takes anyway."""

    def __init__(
        self, work: Work, job: Job, moving: Moving, taken: Mapping[int, int] | None = None
    ) -> None:
        self._work, self._job, self._moving = work, job, moving
        self._today = work.now.date()
        self._gone = dict(taken or {})
        self._freed: dict[int, int] = {}
        self._claimed: dict[int, int] = {}
        self._from_lots: dict[int, int] = {}
        self._ends_early = False
        self._moves: dict[int, Move] = {}
        self._holders: dict[int, _Holder] = {}
        self._tried: dict[int, Problem] = {}
        self._promises: dict[int, list[Reservation]] = {}

    @property
    def room(self) -> Room:
        """What was found, where that is enough."""
        movers = {move.to.job_id for move in self._moves.values()}
        grounds = [holder.ground for job_id, holder in self._holders.items() if job_id in movers]
        return Room(list(self._moves.values()), grounds, self._from_lots)

    @property
    def tried(self) -> list[Problem]:
        """What to say where it is not enough: of each promise that was looked at, why it stays."""
        not_enough = "it could move aside, which is not enough"
        alone = [
            _problem(self._from_lots[row_id], row_id, move.to.job_id, move.to.quantity, not_enough)
            for row_id, move in self._moves.items()
        ]
        others = [each for row_id, each in self._tried.items() if row_id not in self._moves]
        rest = [Problem("", "further promises were not looked at")] if self._ends_early else []
        return [*alone, *others, *rest]

    def look_up(self, lots: Iterable[Lot]) -> None:
        """Look up what others are promised of lots, the latest first; one statement for all."""
        new = [lot.id for lot in lots if lot.id not in self._promises]
        if not new:
            return
        statement = select(Reservation).where(
            Reservation.lot_id.in_(new),
            Reservation.promised > 0,
            Reservation.job_id != self._job.id,
        )
        self._promises |= {lot_id: [] for lot_id in new}
        for row in self._work.session.scalars(statement.order_by(Reservation.id.desc())):
            self._promises[row.lot_id].append(row)

    def free(self, lot: Lot, pieces: int) -> int:
        """Free up to so many pieces of a lot, and return how many."""
        self.look_up([lot])
        for reservation in self._promises[lot.id]:
            if self._unclaimed(lot) >= pieces:
                break
            if self._moves_aside(reservation, lot, is_first=True):
                self._freed[lot.id] = self._freed.get(lot.id, 0) + reservation.promised
        claimed = min(pieces, self._unclaimed(lot))
        self._claimed[lot.id] = self._claimed.get(lot.id, 0) + claimed
        return claimed

    def _unclaimed(self, lot: Lot) -> int:
        return self._freed.get(lot.id, 0) - self._claimed.get(lot.id, 0)

    def _moves_aside(self, reservation: Reservation, lot: Lot, *, is_first: bool) -> bool:
        """Whether a promise can move to what is free, or to what one more frees for it."""
        if reservation.id in self._moves:
            return False
        if len(self._tried) >= MOST_LOOKED_AT:
            self._ends_early = True
            return False
        why_not = self._why_not(reservation, lot)
        found: Candidate | str = why_not or self._instead(reservation, lot, is_first=is_first)
        if isinstance(found, str):
            told = (reservation.id, reservation.job_id, reservation.promised, found)
            self._tried[reservation.id] = _problem(lot.id, *told)
            return False
        self._take(reservation, found)
        return True

    def _instead(self, reservation: Reservation, lot: Lot, *, is_first: bool) -> Candidate | str:
        """Return what the job of a promise may have instead, or why it has to stay."""
        holder = self._holder(reservation)
        choice = self._choice(holder, reservation)
        if isinstance(choice, str):
            return choice
        day = max(holder.job.promised_on or self._today, self._today)
        try:
            present = choice.of(lot)
            others = _Others(choice, present, day)
            found = self._free_piece(others, reservation)
            if found is None and is_first:
                found = self._piece_freed(others, reservation)
        except (Impossible, Broken) as refusal:
            return f"what else would fit {holder.job.number} cannot be worked out: {refusal.detail}"
        return found or f"nothing else that could be had fits {holder.job.number} as well"

    def _why_not(self, reservation: Reservation, lot: Lot) -> str | None:
        """Return why a promise may not move, wherever else its job might find a piece."""
        whose = reservation.person or "nobody named"
        if self._moving is Moving.MINE and reservation.person != self._work.actor.person:
            return f'it is promised by another person ({whose}); "move": "any" asks for theirs, too'
        if reservation.in_tray:
            return f"{reservation.in_tray} of it in the tray"
        if lot.donor_id is not None:
            return "its piece comes from a donor"
        if reservation.pinned:
            return f"it is pinned, as {reservation.person or reservation.actor} promised it"
        if not may_move(reservation):
            return "part of it has ended, or it goes with another"
        return None

    def _holder(self, reservation: Reservation) -> _Holder:
        job_id = reservation.job_id
        if job_id not in self._holders:
            job = self._work.session.get_one(Job, job_id)
            pieces = held(self._work.session, [job])
            self._holders[job_id] = _Holder(job, pieces, ground_of(self._work, job, pieces))
        return self._holders[job_id]

    def _choice(self, holder: _Holder, reservation: Reservation) -> Choice | str:
        """Return what may be taken instead for the need of a promise, or why nothing can be."""
        need = holder.job.need(reservation.need_id)
        if need is None:
            return f"it is extra: no need of {holder.job.number} says what would do instead"
        if need.id not in holder.choices:
            holder.choices[need.id] = self._looked_up(holder, need)
        return holder.choices[need.id]

    def _looked_up(self, holder: _Holder, need: Need) -> Choice | str:
        job = holder.job
        if settles(self._work, need):
            return f"what else {job.number} takes is judged beside it"
        calculator = self._work.declared.calculators.get(need.calculator or "")
        if calculator is None or not calculator.fits_pieces:
            return f"no calculator says what else would fit {job.number}"
        try:
            beside = settled_beside(self._work, job, need, holder.pieces)
            run = run_for(self._work, job, need, beside)
            missing = missing_inputs(run)
            if not missing:
                return Choice(self._work, run, job.number)
        except (Impossible, Broken) as refusal:
            return f"what else would fit {job.number} cannot be worked out: {refusal.detail}"
        return f"readings of {job.number} are missing: {', '.join(missing)}"

    def _left(self, lot: Lot) -> int:
        return lot.available - self._gone.get(lot.id, 0)

    def _free_piece(self, others: _Others, reservation: Reservation) -> Candidate | None:
        """Return the best piece that is free; what is being freed is for somebody else."""
        for each in others.free():
            is_enough = self._left(each.lot) >= reservation.promised
            if is_enough and each.lot.id not in self._freed:
                return each
        return None

    def _piece_freed(self, others: _Others, reservation: Reservation) -> Candidate | None:
        """Return the best piece that comes free because one further promise moves on."""
        promised = list(others.promised())
        self.look_up(each.lot for each in promised)
        for each in promised:
            lacks = reservation.promised - self._left(each.lot)
            for other in self._promises[each.lot.id]:
                is_own = other.job_id == reservation.job_id
                if is_own or other.promised < lacks or each.lot.id in self._freed:
                    continue
                if self._moves_aside(other, each.lot, is_first=False):
                    self._gone[each.lot.id] = self._gone.get(each.lot.id, 0) - other.promised
                    return each
        return None

    def _take(self, reservation: Reservation, found: Candidate) -> None:
        """Let a promise move, and count the pieces that it takes as gone."""
        lot = found.lot
        self._gone[lot.id] = self._gone.get(lot.id, 0) + reservation.promised
        to = NewPromise(
            lot.id,
            reservation.promised,
            reservation.job_id,
            reservation.need_id,
            found.verdict.value,
            found.why,
            version=lot.version,
            is_alone=lot.donor_id is None,
            margins=found.room,
            pinned=lot.donor_id is not None,
        )
        self._moves[reservation.id] = Move(reservation.id, to, self._job.id)
        self._from_lots[reservation.id] = reservation.lot_id


class _Others:
    """The pieces that a job may have instead of one that it has, none of which fits it worse."""

    def __init__(self, choice: Choice, present: Candidate, day: date) -> None:
        self._choice, self._present, self._day = choice, present, day

    def free(self) -> Iterator[Candidate]:
        """Yield those that are free, the best first."""
        yield from filter(self._is_as_good, self._choice.free)

    def promised(self) -> Iterator[Candidate]:
        """Yield those that are promised, the best first."""
        yield from filter(self._is_as_good, self._choice.promised)

    def _is_as_good(self, candidate: Candidate) -> bool:
        is_other = candidate.lot.id != self._present.lot.id
        return is_other and is_no_worse(candidate, self._present, self._day)


def _problem(lot_id: int, reservation_id: int, job_id: int, pieces: int, why: str) -> Problem:
    job = number_of(JOB_PREFIX, job_id)
    return Problem(
        "",
        f"reservation {reservation_id} holds {pieces} of bag {lot_id} for {job}: {why}",
        {"reservation": reservation_id, "job": job, "lot": lot_id},
    )
