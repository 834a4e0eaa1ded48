"""How a job, its needs and its steps are shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sparewell.errors import Problem
from sparewell.extend.declarations import TemplateReading
from sparewell.filling_systems.operations import readings_of
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import PartsCost, cost_warnings, parts_costs
from sparewell.jobs.held import Moved, Pieces, covers_of, pieces_of
from sparewell.jobs.inputs import paired_with
from sparewell.jobs.operations import Cover
from sparewell.jobs.steps import JobStep, stands_at, steps_of
from sparewell.jobs.tables import ApprovalState, Job, JobState, Need
from sparewell.jobs.unfinished import unfinished
from sparewell.reservations.tables import Reservation
from sparewell.work import Work


@dataclass(frozen=True)
class ShownNeed:
    """A need, how far it is covered, and the needs that are replaced together with it."""

    row: Need
    cover: Cover
    paired_with: Sequence[int]

    @property
    def state(self) -> str:
        """How it stands."""
        return self.cover.state(self.row)


@dataclass(frozen=True)
class ShownJob:
    """A job with what is worked out of it: its needs and steps, costs, and what is unfinished."""

    row: Job
    needs: Sequence[ShownNeed]
    steps: Sequence[Mapping[str, Any]]
    readings: Sequence[TemplateReading]
    costs: PartsCost
    warnings: Sequence[str]
    unfinished: Sequence[str]
    overrides: Sequence[Reservation]
    moved: Sequence[Moved]

    @property
    def tests(self) -> Sequence[Mapping[str, Any]]:
        """The template's tests; copies of the first release have none."""
        tests: Sequence[Mapping[str, Any]] = self.row.template.get("tests", [])
        return tests

    @property
    def approval(self) -> Mapping[str, Any]:
        """The latest word on the estimate."""
        return _approval(self.row)

    @property
    def stands_at(self) -> int | None:
        """The position of the first step that is not done."""
        return stands_at(self.row)


def shown_jobs(work: Work, some: Sequence[Job]) -> list[ShownJob]:
    """Return jobs as they are shown, with what is derived of them, looked up for all at once."""
    pieces = pieces_of(work.session, some)
    covers = covers_of(pieces.every, some)
    costs = parts_costs(work.session, some, pieces.every)
    return [_shown(work, job, covers, costs[job.id], pieces) for job in some]


def shown_job(work: Work, job: Job) -> ShownJob:
    """Return one job as it is shown."""
    return shown_jobs(work, [job])[0]


def _shown(
    work: Work, job: Job, covers: Mapping[int, Cover], costs: PartsCost, pieces: Pieces
) -> ShownJob:
    left: Sequence[Problem] = ()
    if job.state == JobState.OPEN or job.closed_anyway:
        left = unfinished(work.declared, job, covers, work.now)
    return ShownJob(
        row=job,
        needs=[ShownNeed(need, covers[need.id], paired_with(job, need)) for need in job.needs],
        steps=[_step(each) for each in steps_of(work, job, pieces)],
        readings=list(readings_of(work.declared, job.template).values()),
        costs=costs,
        warnings=cost_warnings(job, costs),
        unfinished=[problem.detail for problem in left],
        overrides=[row for row in pieces.overridden if row.job_id == job.id],
        moved=[each for each in pieces.moved if each.is_unread(job.id)],
    )


def shown_need(work: Work, job: Job, need: Need) -> ShownNeed:
    """Return one need of a job as it is shown."""
    cover = jobs.covers(work.session, [job]).get(need.id, Cover())
    return ShownNeed(need, cover, paired_with(job, need))


def _approval(job: Job) -> dict[str, Any]:
    latest = job.latest_approval
    shown = {name: getattr(latest, name, None) for name in ("by", "actor", "person", "at")}
    return shown | {
        "state": latest.state if latest else ApprovalState.NOT_ASKED,
        "note": latest.note if latest else "",
    }


def _step(each: JobStep) -> dict[str, Any]:
    """Return a step of a job, whether it is done, and what to mind before it."""
    mark = each.mark
    return {
        **each.template,
        "position": each.position,
        "done": mark is not None,
        "done_at": mark.at if mark else None,
        "done_by": (mark.person or mark.actor) if mark else None,
        "done_note": mark.note if mark else "",
        "not_needed": mark is not None and mark.not_needed,
        "owed": each.is_owed,
        "cautions": each.cautions,
    }
