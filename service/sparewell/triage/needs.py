"""What each pen of a batch would need, and how far it is known which size.

Where a job is open its needs count, as far as nothing covers them; else those of the filling
system's template. A calculator is asked only where every reading that it needs was taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import lazyload

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.filling_systems.operations import systems_named
from sparewell.fitting.in_hand import Asked
from sparewell.jobs.inputs import filled, missing_inputs, run_if_any
from sparewell.jobs.operations import Cover, covers, described_job
from sparewell.jobs.tables import Job, JobState, Need
from sparewell.pens.tables import Pen
from sparewell.triage.past import Past, PastSizes
from sparewell.work import Work


@dataclass(frozen=True)
class BatchPen:
    """A pen of a batch, and the job that is open on it, or as it would be opened."""

    row: Pen
    job: Job
    covers: Mapping[int, Cover]

    @property
    def open_job(self) -> Job | None:
        """The job that is open."""
        return self.job if self.job.id is not None else None

    def cover(self, need: Need) -> Cover:
        """Return how far a need is covered."""
        return self.covers.get(need.id, Cover())


@dataclass(frozen=True)
class BatchNeed:
    """One thing that a pen would need, and what is known of its size."""

    row: Need
    quantity: int
    asked: Asked | None = None
    past: PastSizes | None = None
    missing: tuple[str, ...] = ()

    @property
    def counts(self) -> bool:
        """Whether the pen cannot be finished without it, as far as it is known unopened."""
        return self.row.decided and not self.row.optional


@dataclass(frozen=True)
class LeftOut:
    """What of a batch is not to be opened, and why."""

    number: str
    why: str


def batch_of(work: Work, pens: Sequence[Pen]) -> tuple[list[BatchPen], list[LeftOut]]:
    """Return the pens that are to be opened, each with its job, and those that are not."""
    opened, ended = _jobs(work, pens)
    named = systems_named(work, {pen.filling_system for pen in pens})
    systems = {name: found.system for name, found in named.items()}
    covered = covers(work.session, opened.values())
    batch, left_out = [], []
    for pen in pens:
        job, system = opened.get(pen.id), systems.get(pen.filling_system)
        if pen.retired_at is not None:
            left_out.append(LeftOut(pen.number, "it is retired"))
        elif job is None and pen.id in ended:
            left_out.append(LeftOut(pen.number, f"{ended[pen.id].number} on it is closed"))
        elif job is None and system is None:
            why = f"no plugin declares its filling system, {pen.filling_system}"
            left_out.append(LeftOut(pen.number, why))
        elif job is not None or system is not None:
            as_opened = job or described_job(work, pen, system=system)
            batch.append(BatchPen(pen, as_opened, covered))
    return batch, left_out


def _jobs(work: Work, pens: Sequence[Pen]) -> tuple[dict[int, Job], dict[int, Job]]:
    """Return by pen the latest job that is open, and the latest that is closed."""
    statement = (
        select(Job)
        .options(lazyload(Job.pen))
        .where(Job.pen_id.in_([pen.id for pen in pens]), Job.state != JobState.CANCELLED)
        .order_by(Job.id)
    )
    rows = work.session.scalars(statement).all()
    opened = {job.pen_id: job for job in rows if job.state == JobState.OPEN}
    return opened, {job.pen_id: job for job in rows if job.state == JobState.CLOSED}


def needs_of(work: Work, pen: BatchPen, past: Past) -> Iterator[BatchNeed]:
    """Yield what a pen would still need, sized by its readings or by what pens alike took."""
    for need in pen.job.needs:
        cover = pen.cover(need)
        if need.dropped_at is not None:
            continue
        found = BatchNeed(need, cover.remaining(need) if need.is_wanted else need.quantity)
        run = run_if_any(work, pen.job, need, {})
        missing = () if run is None else missing_inputs(run)
        if run is not None and not missing:
            found = _sized(work, found, cover, run)
        if found.asked is None:
            reads = tuple(need.reads.get(name, name) for name in missing)
            found = replace(found, past=past.sizes(pen.row, need), missing=reads)
        if found.quantity > 0:
            yield found


def _sized(work: Work, found: BatchNeed, cover: Cover, run: Run) -> BatchNeed:
    """Return a need with what its calculator says; where that fails it is sized like the others."""
    try:
        cover = filled(found.row, cover, run)
        asked = Asked.of(work, run)
    except (Impossible, Broken):
        return found
    quantity = cover.remaining(found.row) if found.row.is_wanted else found.quantity
    return replace(found, quantity=quantity, asked=asked)
