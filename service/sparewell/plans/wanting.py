"""What open jobs want, all at once: what each need asks for, and what a job waits for instead.

The statements are the same few however many jobs there are, and pens that measure alike are asked
about once. A need is asked about as in its job's own plan: what is promised, used or optional is
not wanted, and what a promised bar settles stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import aliased, selectinload

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import TemplateReading
from sparewell.fitting.in_hand import Asked
from sparewell.jobs.held import HeldPiece, covers_of, pieces_of
from sparewell.jobs.inputs import (
    filled,
    missing_inputs,
    readings_for,
    run_for,
    settled_readings,
    settles,
)
from sparewell.jobs.operations import Cover
from sparewell.jobs.tables import ApprovalState, Job, JobState, Need, NeedState
from sparewell.pens.operations import present_readings
from sparewell.work import Work


class WaitsFor(StrEnum):
    """What keeps a pen from being finished, in the order in which it is to be settled."""

    OWNER = "owner"
    DECISION = "decision"
    READING = "reading"
    PART = "part"


@dataclass(frozen=True)
class Waits:
    """One thing that a job waits for, of which need, and in words; and the readings that decide."""

    on: WaitsFor
    why: str
    need: Need | None = None
    readings: tuple[TemplateReading, ...] = ()

    @property
    def decides(self) -> str | None:
        """What the readings would decide."""
        if self.need is None or not self.readings:
            return None
        return f"which {self.need.kind.replace('_', ' ')} fits; nothing is known before"


@dataclass(frozen=True)
class Sized:
    """A need that lacks pieces, and what would fit it."""

    need: Need
    pieces: int
    asked: Asked


@dataclass
class Wanting:
    """An open job: what it has, what it lacks and can be asked for, and what it waits for."""

    job: Job
    held: list[HeldPiece]
    settled: Mapping[str, int] = field(default_factory=dict)
    sized: list[Sized] = field(default_factory=list)
    waits: list[Waits] = field(default_factory=list)

    @property
    def settling(self) -> list[Sized]:
        """The needs whose pieces, still to be taken, settle readings of others."""
        return [each for each in self.sized if each.asked.run.calculator.settles is not None]


class Sizer:
    """Sizes needs, those that ask the same once."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._known: dict[Any, Asked] = {}

    def asked(self, run: Run) -> Asked:
        """Return what would fit. Raises :class:`Impossible` and :class:`Broken`."""
        names = sorted(run.inputs)
        key = (
            run.calculator.name,
            tuple((name, run.inputs[name], run.inputs.spread(name)) for name in names),
            tuple(run.pen_materials),
            tuple(run.materials),
        )
        if key not in self._known:
            self._known[key] = Asked.of(self._work, run)
        return self._known[key]


def count_open(work: Work) -> int:
    """Return how many jobs are open."""
    statement = select(func.count()).select_from(Job).where(Job.state == JobState.OPEN)
    return work.session.execute(statement).scalar_one()


def open_jobs(work: Work) -> Sequence[Job]:
    """Return the open jobs, in the order of their numbers."""
    statement = (
        select(Job)
        .where(Job.state == JobState.OPEN)
        .options(selectinload(Job.latest_approval), selectinload(Job.step_marks))
        .order_by(Job.id)
    )
    return work.session.scalars(statement).unique().all()


def wanting(work: Work, jobs: Sequence[Job], sizer: Sizer) -> list[Wanting]:
    """Return what jobs want; `sizer` remembers what was asked before."""
    pieces: dict[int, list[HeldPiece]] = {job.id: [] for job in jobs}
    every = pieces_of(work.session, jobs).every
    for each in every:
        pieces[each.job_id].append(each)
    covers = covers_of(every, jobs)
    before = _ended_before(work, jobs)
    return [
        _Looking(work, sizer, job, pieces[job.id], covers, before.get(job.pen_id)).look()
        for job in jobs
    ]


def _ended_before(work: Work, jobs: Sequence[Job]) -> Mapping[int, datetime]:
    """Return by pen when its last repair ended: what was measured before is not of this time."""
    other = aliased(Job)
    statement = (
        select(other.pen_id, func.max(other.ended_at))
        .where(other.pen_id.in_({job.pen_id for job in jobs}), other.state == JobState.CLOSED)
        .group_by(other.pen_id)
    )
    return {pen_id: at for pen_id, at in work.session.execute(statement) if at is not None}


class _Looking:
    """Looks at one job."""

    def __init__(
        self,
        work: Work,
        sizer: Sizer,
        job: Job,
        pieces: Sequence[HeldPiece],
        covers: Mapping[int, Cover],
        before: datetime | None,
    ) -> None:
        self._work, self._sizing, self._job, self._covers = work, sizer, job, covers
        held = [each for each in pieces if each.is_held]
        settled = settled_readings(work, job, held) if held else {}
        self._found = Wanting(job, held, settled)
        self._before = before

    def look(self) -> Wanting:
        """Return what the job wants."""
        self._found.waits += self._of_owner()
        for need in self._job.needs:
            if not need.optional:
                self._look_at(need)
        return self._found

    def _of_owner(self) -> Iterator[Waits]:
        latest, job = self._job.latest_approval, self._job
        state = latest.state if latest else ApprovalState.NOT_ASKED
        if state == ApprovalState.DECLINED:
            yield Waits(WaitsFor.OWNER, "the estimate was declined")
        elif job.estimate_minor is not None and state != ApprovalState.APPROVED:
            yield Waits(WaitsFor.OWNER, f"the estimate is {state.replace('_', ' ')}")

    def _look_at(self, need: Need) -> None:
        cover = self._covers[need.id]
        state = cover.state(need)
        if state == NeedState.UNDECIDED:
            self._wait(WaitsFor.DECISION, need, "decide it once the pen is open")
        elif state != NeedState.DROPPED and (need.at_most is not None or cover.remaining(need)):
            self._size(need, cover)

    def _size(self, need: Need, cover: Cover) -> None:
        work, job = self._work, self._job
        calculator = work.declared.calculators.get(need.calculator or "")
        if calculator is None or not calculator.fits_pieces:
            self._wait(WaitsFor.DECISION, need, "no calculator sizes it: name the bag")
            return
        try:
            own = {} if settles(work, need) else self._found.settled
            run = run_for(work, job, need, own)
            missing = missing_inputs(run)
            if missing:
                self._measure(need, missing, "it was not measured")
                return
            pieces = filled(need, cover, run).remaining(need)
            if pieces and not self._is_old(need, run):
                self._found.sized.append(Sized(need, pieces, self._sizing.asked(run)))
        except (Impossible, Broken) as refusal:
            names = {problem.pointer.removeprefix("/") for problem in refusal.problems}
            measured = [
                each.name for each in calculator.inputs if each.measured and each.name in names
            ]
            if measured:
                self._measure(need, measured, refusal.detail)
            else:
                self._wait(WaitsFor.DECISION, need, refusal.detail)

    def _is_old(self, need: Need, run: Run) -> bool:
        """Whether what sizes a need was measured before the pen's last repair had ended."""
        present = present_readings(self._job.pen)
        used = {need.reads.get(name, name) for name in run.inputs}
        old = [
            name
            for name in sorted(used & present.keys())
            if self._before is not None and present[name].at <= self._before
        ]
        if old:
            self._measure(need, old, "it was measured before the pen's last repair", is_read=True)
        return bool(old)

    def _measure(
        self, need: Need, names: Sequence[str], why: str, *, is_read: bool = False
    ) -> None:
        named = names if is_read else [need.reads.get(name, name) for name in names]
        readings = readings_for(self._work, self._job, named)
        self._wait(WaitsFor.READING, need, why, readings)

    def _wait(
        self, on: WaitsFor, need: Need, why: str, readings: tuple[TemplateReading, ...] = ()
    ) -> None:
        self._found.waits.append(Waits(on, why, need, readings))
