"""Jobs, their needs, their steps and their worth over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload

from sparewell.database.numbers import PEN_PREFIX, id_of
from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.filling_systems.operations import template_need
from sparewell.jobs import agreed, needs, progress
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import parts_costs
from sparewell.jobs.fetching import fetch_list, taken_for
from sparewell.jobs.schemas import (
    ChangedJobSchema,
    ChangedNeedSchema,
    FetchListSchema,
    JobArguments,
    JobPageSchema,
    JobSchema,
    NeedSchema,
    NewJobSchema,
    NewNeedSchema,
    NoteSchema,
    StepDoneSchema,
    WorthSchema,
)
from sparewell.jobs.showing import shown_job, shown_jobs, shown_need
from sparewell.jobs.tables import Job
from sparewell.jobs.worth import worth
from sparewell.measure.money import money_text
from sparewell.pens import operations as pens
from sparewell.pens.tables import Pen

blueprint = Blueprint("jobs", __name__, url_prefix="/v1", tag="repairs")
_THIS_NUMBER = {"number": "$response.body#/number"}
_FROM_A_JOB = {
    "read": Link("get", "/v1/jobs/{number}", _THIS_NUMBER),
    "change": Link("patch", "/v1/jobs/{number}", _THIS_NUMBER),
    "plan": Link("get", "/v1/jobs/{number}/plan", _THIS_NUMBER),
    "need": Link("post", "/v1/jobs/{number}/needs", _THIS_NUMBER),
    "reserve": Link("post", "/v1/jobs/{number}/reservations", _THIS_NUMBER),
    "wait": Link("post", "/v1/jobs/{number}/timers", _THIS_NUMBER),
    "worth": Link("get", "/v1/jobs/{number}/worth", _THIS_NUMBER),
    "close": Link("post", "/v1/jobs/{number}/close", _THIS_NUMBER),
    "cancel": Link("post", "/v1/jobs/{number}/cancel", _THIS_NUMBER),
}


@blueprint.route("/jobs", methods=["POST"])
@blueprint.arguments(NewJobSchema)
@blueprint.etag
@blueprint.response(201, JobSchema, links=_FROM_A_JOB)
def add_job(body: dict[str, Any]) -> Any:
    """Open a job on a pen, with a copy of its filling system's template."""
    pen = pens.find_pen(work().session, body.pop("pen"), "/pen")
    job = agreed.change_job(work(), jobs.open_job(work(), pen, body.pop("note")), body)
    return shown_job(work(), job), location("jobs", job.number)


@blueprint.route("/jobs")
@blueprint.arguments(JobArguments, location="query")
@blueprint.response(200, JobPageSchema)
def list_jobs(arguments: dict[str, Any]) -> Any:
    """List the jobs, oldest first."""
    # The readings of their pens are not shown; what is shown is loaded for all at once.
    statement = select(Job).options(
        joinedload(Job.pen).lazyload(Pen.readings),
        joinedload(Job.latest_approval),
        selectinload(Job.step_marks),
        selectinload(Job.timers),
    )
    if "state" in arguments:
        statement = statement.where(Job.state == arguments["state"])
    if "pen" in arguments:
        statement = statement.where(Job.pen_id == id_of(PEN_PREFIX, arguments["pen"]))
    page = page_of(work().session, statement, Job.id, arguments)
    return answer("jobs", page, lambda rows: shown_jobs(work(), rows))


@blueprint.route("/jobs/<identifier:number>")
@blueprint.etag
@blueprint.response(200, JobSchema)
def get_job(number: str) -> Any:
    """Return one job."""
    return shown_job(work(), jobs.find_job(work().session, number))


@blueprint.route("/jobs/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedJobSchema)
@blueprint.etag
@blueprint.response(200, JobSchema)
def patch_job(body: dict[str, Any], number: str) -> Any:
    """Change what is said of a job; a new word on its approval leaves the earlier ones kept."""
    job = locked(work().session, jobs.find_job(work().session, number))
    blueprint.check_etag(shown_job(work(), job), JobSchema)
    return shown_job(work(), agreed.change_job(work(), job, body))


@blueprint.route("/jobs/<identifier:number>/needs", methods=["POST"], tags=["job_needs"])
@blueprint.arguments(NewNeedSchema)
@blueprint.etag
@blueprint.response(201, NeedSchema)
def add_need(body: dict[str, Any], number: str) -> Any:
    """Add a need to a job that its template did not foresee."""
    job = jobs.find_job(work().session, number)
    need = needs.add_need(work(), job, template_need(body))
    return shown_need(work(), job, need), location(f"jobs/{job.number}/needs", need.id)


@blueprint.route("/jobs/<identifier:number>/needs/<row:need_id>", tags=["job_needs"])
@blueprint.etag
@blueprint.response(200, NeedSchema)
def get_need(number: str, need_id: int) -> Any:
    """Return one need of a job."""
    job = jobs.find_job(work().session, number)
    return shown_need(work(), job, needs.find_need(job, need_id))


@blueprint.route(
    "/jobs/<identifier:number>/needs/<row:need_id>", methods=["PATCH"], tags=["job_needs"]
)
@blueprint.arguments(ChangedNeedSchema)
@blueprint.etag
@blueprint.response(200, NeedSchema)
def patch_need(body: dict[str, Any], number: str, need_id: int) -> Any:
    """Change a need, decide it, drop it with its reason, or take it back."""
    job = jobs.locked_open(work(), jobs.find_job(work().session, number))
    need = needs.find_need(job, need_id)
    blueprint.check_etag(shown_need(work(), job, need), NeedSchema)
    needs.change_need(work(), job, need_id, body)
    return shown_need(work(), job, need)


@blueprint.route("/jobs/<identifier:number>/fetch-list", tags=["job_needs"])
@blueprint.response(200, FetchListSchema)
def get_fetch_list(number: str) -> Any:
    """List what is promised and not yet in the tray, by place, in the order of the places."""
    job = jobs.find_job(work().session, number)
    by_place = fetch_list(taken_for(work().session, job), work().now)
    return {
        "job": job.number,
        "places": [{"place": code, "pieces": group} for code, group in by_place],
    }


@blueprint.route(
    "/jobs/<identifier:number>/steps/<row:position>/done", methods=["POST"], tags=["under_way"]
)
@blueprint.arguments(StepDoneSchema)
@blueprint.response(200, JobSchema)
def do_step(body: dict[str, Any], number: str, position: int) -> Any:
    """Note that a step is done, or that this pen does not need it; steps are counted from 1."""
    job = jobs.find_job(work().session, number)
    return shown_job(work(), progress.mark_step(work(), job, position, **body, is_done=True))


@blueprint.route(
    "/jobs/<identifier:number>/steps/<row:position>/undone", methods=["POST"], tags=["under_way"]
)
@blueprint.arguments(NoteSchema)
@blueprint.response(200, JobSchema)
def undo_step(body: dict[str, Any], number: str, position: int) -> Any:
    """Note that a step is not done after all; that it was said to be is kept."""
    job = jobs.find_job(work().session, number)
    return shown_job(work(), progress.mark_step(work(), job, position, body["note"], is_done=False))


@blueprint.route("/jobs/<identifier:number>/worth", tags=["under_way"])
@blueprint.response(200, WorthSchema)
def get_worth(number: str) -> Any:
    """Reckon whether a repair is worth it, and say what is missing from the reckoning."""
    job = jobs.find_job(work().session, number)
    found = worth(work(), job, parts_costs(work().session, [job])[job.id])
    difference = found.difference_minor
    return {
        "job": job.number,
        "pen": job.pen.number,
        "lines": found.lines,
        "total": found.total_minor,
        "complete": not found.missing,
        "value_as_restored": job.value_as_restored_minor,
        "price": job.price_minor,
        "fetches": found.fetches[0] if found.fetches else None,
        "fetches_by": found.fetches[1] if found.fetches else None,
        "difference": None if difference is None else money_text(difference),
        "missing": found.missing,
        "settings": found.settings,
    }
