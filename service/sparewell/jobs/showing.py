"""How a job, its needs and its steps are shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sparewell.database.numbers import JOB_PREFIX, PEN_PREFIX, number_of
from sparewell.errors import Problem
from sparewell.filling_systems.operations import readings_of
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import PartsCost, cost_warnings, parts_costs
from sparewell.jobs.held import Pieces, pieces_of
from sparewell.jobs.inputs import paired_with
from sparewell.jobs.operations import Cover
from sparewell.jobs.steps import JobStep, stands_at, steps_of
from sparewell.jobs.tables import ApprovalState, Job, JobState, Need
from sparewell.jobs.unfinished import unfinished
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

_PLAIN_OF_A_NEED = (
    *("id", "kind", "quantity", "at_most", "calculator", "given", "reads", "optional"),
    "materials",
    *("seals_where", "together", "note", "dropped_at", "dropped_by", "dropped_why"),
)


def show_job(
    work: Work,
    job: Job,
    covers: Mapping[int, Cover] | None = None,
    costs: Mapping[int, PartsCost] | None = None,
    pieces: Pieces | None = None,
) -> dict[str, Any]:
    """Return a job as its schema shows it; `pieces` are what it holds, among those of others."""
    if covers is None:
        covers = jobs.covers(work.session, [job])
    if costs is None:
        costs = parts_costs(work.session, [job])
    left: Sequence[Problem] = ()
    if job.state == JobState.OPEN or job.closed_anyway:
        left = unfinished(work.declared, job, covers, work.now)
    if pieces is None:
        pieces = pieces_of(work.session, [job])
    return {
        "number": job.number,
        "pen": job.pen.number,
        "state": job.state,
        "filling_system": job.template["name"],
        "needs": [show_need(job, need, covers[need.id]) for need in job.needs],
        "consumables": job.template["consumables"],
        "steps": [step(each) for each in steps_of(work, job, pieces)],
        "tests": job.template.get("tests", []),  # copies of the first release have none
        "readings": list(readings_of(work.declared, job.template).values()),
        "notes": job.template["notes"],
        "note": job.note,
        "created_at": job.created_at,
        "ended_at": job.ended_at,
        "unfinished": [problem.detail for problem in left],
        **_on_its_way(job, costs[job.id], pieces.overridden),
    }


def show_need(job: Job, need: Need, cover: Cover) -> dict[str, Any]:
    """Return a need as its schema shows it."""
    return {
        **{name: getattr(need, name) for name in _PLAIN_OF_A_NEED},
        "paired_with": paired_with(job, need),
        "state": cover.state(need),
        "promised": cover.promised,
        "used": cover.used,
    }


def _on_its_way(job: Job, costs: PartsCost, overrides: Sequence[Reservation]) -> dict[str, Any]:
    """Return what was agreed of a job, where it stands, and how it went."""
    return {
        "wishes": job.wishes,
        "promised_on": job.promised_on,
        "estimate": job.estimate_minor,
        "ceiling": job.ceiling_minor,
        "postage": job.postage_minor,
        "approval": _approval(job),
        "parts_cost": costs.total,
        "warnings": cost_warnings(job, costs),
        "stands_at": stands_at(job),
        "timers": job.timers,
        "glue": job.glue,
        "ink": job.ink,
        "test_results": job.test_results,
        "time_minutes": job.time_minutes,
        "value_as_restored": job.value_as_restored_minor,
        "closed_anyway": job.closed_anyway,
        "overrides": [
            {
                "reservation": row.id,
                "lot": row.lot_id,
                "refused_because": row.why,
                "override": row.override,
            }
            for row in overrides
            if row.job_id == job.id
        ],
    }


def _approval(job: Job) -> dict[str, Any]:
    latest = job.approvals[-1] if job.approvals else None
    shown = {name: getattr(latest, name, None) for name in ("by", "actor", "person", "at")}
    return shown | {
        "state": latest.state if latest else ApprovalState.NOT_ASKED,
        "note": latest.note if latest else "",
    }


def step(each: JobStep) -> dict[str, Any]:
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


def numbers(job_id: int, pen_id: int) -> dict[str, str]:
    """Return the numbers of a job and its pen."""
    return {"job": number_of(JOB_PREFIX, job_id), "pen": number_of(PEN_PREFIX, pen_id)}
