"""Judging a lot for a job as it will be: its pen, or readings of it, are noted along with it.

Nothing is written while something is worked out. So the pen and its job are described, with ids
that no row has, and what was judged for them is handed on to those that are made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from sparewell.jobs.operations import described_job
from sparewell.jobs.tables import Job
from sparewell.pens.tables import Pen, Reading
from sparewell.plans.naming import NamedLot
from sparewell.work import Work

_NO_ROW: Final = 0
# Of readings of one name the one with the highest id counts.
_AFTER_ALL_ROWS: Final = 10**18


def imagined_job(work: Work, pen: Pen) -> Job:
    """Return the job that would be opened on a pen that was only described."""
    _number(pen.readings)
    job = described_job(work, pen)
    job.id = pen.id = _NO_ROW
    for position, need in enumerate(job.needs, 1):
        need.id = position - len(job.needs) - 1
    return job


def imagined_readings(work: Work, job: Job, readings: Sequence[Reading]) -> Job:
    """Return a job as it would be with more readings of its pen; it is none of the session then."""
    work.session.expunge_all()
    _number(readings)
    job.pen.readings.extend(readings)
    return job


def _number(readings: Sequence[Reading]) -> None:
    for position, reading in enumerate(readings):
        reading.id = _AFTER_ALL_ROWS + position


def come_true(found: NamedLot, job: Job) -> NamedLot:
    """Return what was judged for an imagined job for the one that was made of it."""
    made = {before.id: now.id for before, now in zip(found.job.needs, job.needs, strict=True)}
    ground = replace(
        found.ground,
        job_id=job.id,
        job_version=job.version,
        pen_id=job.pen.id,
        pen_version=job.pen.version,
        need_ids=tuple(made.values()),
    )
    verdicts = {
        None if need_id is None else made[need_id]: said for need_id, said in found.verdicts.items()
    }
    fills = {made[need_id]: pieces for need_id, pieces in found.fills.items()}
    return replace(found, job=job, ground=ground, verdicts=verdicts, fills=fills)
