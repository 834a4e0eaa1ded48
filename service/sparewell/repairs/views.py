"""Pens, jobs, plans and promises over HTTP."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import selectinload

from sparewell.database.numbers import PEN_PREFIX, id_of
from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.errors import Problem
from sparewell.extend.pen_materials import materials_of
from sparewell.fitting.operations import DEFAULT_LIMIT
from sparewell.fitting.views import show_candidate, show_refused
from sparewell.measure.length import millimetres
from sparewell.repairs import intake, jobs, pens, reserving, showing
from sparewell.repairs.advising import advise
from sparewell.repairs.alike import PastSize, alike
from sparewell.repairs.cautions import cautions_for
from sparewell.repairs.costs import PartsCost, cost_warnings, parts_costs
from sparewell.repairs.held import Pieces, materials_held, pieces_of
from sparewell.repairs.job_needs.views import show_need
from sparewell.repairs.job_plans.views import show_advice
from sparewell.repairs.jobs import Cover
from sparewell.repairs.planning import plan_job
from sparewell.repairs.plans import NeedPlan
from sparewell.repairs.schemas import (
    ChangedJobSchema,
    ChangedPenSchema,
    JobArguments,
    JobPageSchema,
    JobSchema,
    NewJobSchema,
    NewPenSchema,
    NewReadingsSchema,
    NewReservationSchema,
    PenArguments,
    PenPageSchema,
    PenSchema,
    PlanSchema,
    ReservationsSchema,
)
from sparewell.repairs.tables import Job, Pen, Reading
from sparewell.repairs.templates import readings_of
from sparewell.repairs.unfinished import not_owed, unfinished
from sparewell.stock.views import show_reservation

blueprint = Blueprint(
    "repairs", __name__, url_prefix="/v1", description="Pens, readings, jobs, plans, promises"
)
_THIS_NUMBER = {"number": "$response.body#/number"}
_FROM_A_PEN = {
    "read": Link("get", "/v1/pens/{number}", _THIS_NUMBER),
    "change": Link("patch", "/v1/pens/{number}", _THIS_NUMBER),
    "measure": Link("post", "/v1/pens/{number}/readings", _THIS_NUMBER),
    "alike": Link("get", "/v1/pens/{number}/alike", _THIS_NUMBER),
    "contents": Link("get", "/v1/pens/{number}/contents", _THIS_NUMBER),
    "history": Link("get", "/v1/pens/{number}/history", _THIS_NUMBER),
    "repair": Link("post", "/v1/jobs", {}, {"pen": "$response.body#/number"}),
}
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
_THE_FIRST = {"reservation_id": "$response.body#/reservations/0/id"}
_FROM_RESERVATIONS = {
    "read": Link("get", "/v1/reservations/{reservation_id}", _THE_FIRST),
    **{
        verb: Link("post", f"/v1/reservations/{{reservation_id}}/{verb}", _THE_FIRST)
        for verb in ("fetch", "use", "release", "spoil")
    },
}


def show_pen(pen: Pen) -> dict[str, Any]:
    """Return a pen as its schema shows it."""
    present = pens.present_readings(pen)
    return {
        "number": pen.number,
        "called": pen.called,
        "filling_system": pen.filling_system,
        "materials": pen.materials,
        "readings": {name: _show_reading(reading) for name, reading in present.items()},
        "all_readings": [
            _show_reading(reading) for reading in sorted(pen.readings, key=lambda row: row.id)
        ],
        "note": pen.note,
        "created_at": pen.created_at,
        "warnings": pens.reading_warnings(work().declared, present),
        **showing.pen_intake(pen),
    }


def _show_reading(reading: Reading) -> dict[str, Any]:
    length = reading.value_nanometres
    return {
        "id": reading.id,
        "name": reading.name,
        "value": reading.value_text if length is None else millimetres(length),
        "entered": reading.entered,
        "instrument": reading.instrument,
        "spread": reading.spread_nanometres,
        "actor": reading.actor,
        "person": reading.person,
        "at": reading.at,
        "correction": reading.correction,
    }


def show_job(
    job: Job,
    covers: Mapping[int, Cover] | None = None,
    costs: Mapping[int, PartsCost] | None = None,
    pieces: Pieces | None = None,
) -> dict[str, Any]:
    """Return a job as its schema shows it; `pieces` are what it holds, among those of others."""
    if covers is None:
        covers = jobs.covers(work().session, [job])
    if costs is None:
        costs = parts_costs(work().session, [job])
    left: Sequence[Problem] = ()
    if job.state == jobs.OPEN or job.closed_anyway:
        left = unfinished(work().declared, job, covers, work().now)
    if pieces is None:
        pieces = pieces_of(work().session, [job])
    return {
        "number": job.number,
        "pen": job.pen.number,
        "state": job.state,
        "filling_system": job.template["name"],
        "needs": [show_need(job, need, covers[need.id]) for need in job.needs],
        "consumables": job.template["consumables"],
        "steps": _steps_with_cautions(job, pieces),
        "tests": job.template.get("tests", []),  # copies of the first release have none
        "readings": list(readings_of(work().declared, job.template).values()),
        "notes": job.template["notes"],
        "note": job.note,
        "created_at": job.created_at,
        "ended_at": job.ended_at,
        "unfinished": [problem.detail for problem in left],
        **showing.job_on_its_way(job, costs[job.id], pieces.overridden),
    }


def _steps_with_cautions(job: Job, pieces: Pieces) -> list[dict[str, Any]]:
    """Return the steps in their order, each with the cautions that stand before it."""
    steps = job.template["steps"]
    materials = materials_of(job.pen.materials, job.pen.components)
    cautions = cautions_for(work().declared, materials, steps, materials_held(pieces.held, job))
    return [
        step
        | standing
        | {"cautions": [each.caution for each in cautions if step["name"] in each.steps]}
        for step, standing in zip(
            steps, showing.step_standings(job, not_owed(work().declared, job)), strict=True
        )
    ]


def _show_need_plan(job: Job, plan: NeedPlan, past: list[PastSize]) -> dict[str, Any]:
    found = plan.found
    return show_advice(advise(work(), job, plan)) | {
        "id": plan.need.id,
        "kind": plan.need.kind,
        "quantity": plan.cover.wanted(plan.need),
        "calculator": plan.need.calculator,
        "optional": plan.need.optional,
        "state": plan.cover.state(plan.need),
        "result": found.calculation.result if found else None,
        "candidates": [show_candidate(each) for each in found.candidates[:DEFAULT_LIMIT]]
        if found
        else [],
        "refused": [show_refused(each) for each in found.refused] if found else [],
        "best": [{"lot": taking.lot_id, "quantity": taking.quantity} for taking in plan.best],
        "short": plan.short,
        "to_buy": found.purchases if found and plan.short else [],
        "missing": plan.missing,
        "readings": plan.readings,
        "paired_with": plan.paired_with,
        "problem": plan.problem or plan.contradiction,
        "warnings": [
            *([plan.filling] if plan.filling else ()),
            *plan.warnings,
            *(found.calculation.warnings if found else ()),
        ],
        "alike": [showing.past_size(each) for each in past if each.kind == plan.need.kind],
    }


@blueprint.route("/pens", methods=["POST"])
@blueprint.arguments(NewPenSchema)
@blueprint.etag
@blueprint.response(201, PenSchema, links=_FROM_A_PEN)
def add_pen(body: dict[str, Any]) -> Any:
    """Put a pen on the bench."""
    pen = pens.create_pen(work(), pens.NewPen(**body))
    return show_pen(pen), location("pens", pen.number)


@blueprint.route("/pens")
@blueprint.arguments(PenArguments, location="query")
@blueprint.response(200, PenPageSchema)
def list_pens(arguments: dict[str, Any]) -> Any:
    """List the pens, oldest first."""
    statement = select(Pen)
    if "filling_system" in arguments:
        statement = statement.where(Pen.filling_system == arguments["filling_system"])
    return answer("pens", page_of(work().session, statement, Pen.id, arguments), show_pen)


@blueprint.route("/pens/<identifier:number>")
@blueprint.etag
@blueprint.response(200, PenSchema)
def get_pen(number: str) -> Any:
    """Return one pen with all its readings."""
    return show_pen(pens.find_pen(work().session, number))


@blueprint.route("/pens/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedPenSchema)
@blueprint.etag
@blueprint.response(200, PenSchema)
def patch_pen(body: dict[str, Any], number: str) -> Any:
    """Change what is said of a pen."""
    pen = locked(work().session, pens.find_pen(work().session, number))
    blueprint.check_etag(show_pen(pen), PenSchema)
    return show_pen(pens.change_pen(work(), pen, body))


@blueprint.route("/pens/<identifier:number>/readings", methods=["POST"])
@blueprint.arguments(NewReadingsSchema)
@blueprint.etag
@blueprint.response(201, PenSchema, links=_FROM_A_PEN)
def add_readings(body: dict[str, Any], number: str) -> Any:
    """Add readings to a pen; the earlier ones stay, and one of them may be corrected."""
    pen = locked(work().session, pens.find_pen(work().session, number))
    raw = body.pop("readings")
    return show_pen(pens.add_readings(work(), pen, raw, **body))


@blueprint.route("/jobs", methods=["POST"])
@blueprint.arguments(NewJobSchema)
@blueprint.etag
@blueprint.response(201, JobSchema, links=_FROM_A_JOB)
def add_job(body: dict[str, Any]) -> Any:
    """Open a job on a pen, with a copy of its filling system's template."""
    pen = pens.find_pen(work().session, body.pop("pen"), "/pen")
    job = intake.change_job(work(), jobs.open_job(work(), pen, body.pop("note")), body)
    return show_job(job), location("jobs", job.number)


@blueprint.route("/jobs")
@blueprint.arguments(JobArguments, location="query")
@blueprint.response(200, JobPageSchema)
def list_jobs(arguments: dict[str, Any]) -> Any:
    """List the jobs, oldest first."""
    kept = (Job.approvals, Job.step_marks, Job.timers)
    statement = select(Job).options(*map(selectinload, kept))
    if "state" in arguments:
        statement = statement.where(Job.state == arguments["state"])
    if "pen" in arguments:
        statement = statement.where(Job.pen_id == id_of(PEN_PREFIX, arguments["pen"]))
    page = page_of(work().session, statement, Job.id, arguments)
    covers = jobs.covers(work().session, page.rows)
    costs = parts_costs(work().session, page.rows)
    pieces = pieces_of(work().session, page.rows)
    return answer("jobs", page, lambda job: show_job(job, covers, costs, pieces))


@blueprint.route("/jobs/<identifier:number>")
@blueprint.etag
@blueprint.response(200, JobSchema)
def get_job(number: str) -> Any:
    """Return one job."""
    return show_job(jobs.find_job(work().session, number))


@blueprint.route("/jobs/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedJobSchema)
@blueprint.etag
@blueprint.response(200, JobSchema)
def patch_job(body: dict[str, Any], number: str) -> Any:
    """Change what is said of a job; a new word on its approval leaves the earlier ones kept."""
    job = locked(work().session, jobs.find_job(work().session, number))
    blueprint.check_etag(show_job(job), JobSchema)
    return show_job(intake.change_job(work(), job, body))


@blueprint.route("/jobs/<identifier:number>/plan")
@blueprint.response(200, PlanSchema)
def get_plan(number: str) -> Any:
    """Work out which pieces a job can have, what is short, and what to mind. Takes nothing."""
    job = jobs.find_job(work().session, number)
    plan, past = plan_job(work(), job), alike(work(), job.pen)
    return {
        "job": job.number,
        "needs": [_show_need_plan(job, need, past) for need in plan.needs],
        "complete": plan.complete,
        "cautions": plan.cautions,
    }


@blueprint.route("/jobs/<identifier:number>/reservations", methods=["POST"])
@blueprint.arguments(NewReservationSchema)
@blueprint.response(201, ReservationsSchema, links=_FROM_RESERVATIONS)
def add_reservations(body: dict[str, Any], number: str) -> Any:
    """Reserve the best set for all open needs, or pieces of a named lot: all of it or nothing."""
    job = jobs.find_job(work().session, number)
    if "lot" in body:
        made = reserving.reserve_lot(
            work(),
            job,
            body["lot"],
            body.get("quantity"),
            body["note"],
            need_id=body.get("need"),
            override=body.get("override"),
        )
    else:
        made = reserving.reserve_best(work(), job, body["note"])
    costs = parts_costs(work().session, [job])[job.id]
    return {
        "reservations": [show_reservation(reservation) for reservation in made],
        "warnings": [*cost_warnings(job, costs), *reserving.warnings_of(work(), made)],
    }
