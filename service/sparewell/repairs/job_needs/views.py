"""What jobs need, over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.repairs import jobs, needs
from sparewell.repairs.fetching import ToFetch, fetch_list
from sparewell.repairs.job_needs.schemas import (
    ChangedNeedSchema,
    FetchListSchema,
    NeedSchema,
    NewNeedSchema,
)
from sparewell.repairs.jobs import Cover
from sparewell.repairs.plans import paired_with
from sparewell.repairs.tables import Job, Need
from sparewell.repairs.templates import template_need

blueprint = Blueprint(
    "job_needs", __name__, url_prefix="/v1", description="What a job needs, and what to fetch"
)
_PLAIN_OF_A_NEED = (
    *("id", "kind", "quantity", "at_most", "calculator", "given", "reads", "optional"),
    "materials",
    *("seals_where", "together", "note", "dropped_at", "dropped_by", "dropped_why"),
)


def show_need(job: Job, need: Need, cover: Cover) -> dict[str, Any]:
    """Return a need as its schema shows it."""
    return {
        **{name: getattr(need, name) for name in _PLAIN_OF_A_NEED},
        "paired_with": paired_with(job, need),
        "state": cover.state(need),
        "promised": cover.promised,
        "used": cover.used,
    }


@blueprint.route("/jobs/<identifier:number>/fetch-list")
@blueprint.response(200, FetchListSchema)
def get_fetch_list(number: str) -> Any:
    """List what is promised and not yet in the tray, by place, in the order of the places."""
    job = jobs.find_job(work().session, number)
    return {
        "job": job.number,
        "places": [
            {"place": code, "pieces": [_show_to_fetch(each) for each in group]}
            for code, group in fetch_list(work(), job)
        ],
    }


def _show_to_fetch(each: ToFetch) -> dict[str, Any]:
    return {
        "reservation": each.reservation.id,
        "need": each.reservation.need_id,
        "lot": each.lot.id,
        "part": each.lot.part.number if each.lot.part else None,
        "kind": each.lot.kind,
        "label": each.lot.label,
        "quantity": each.quantity,
    }


@blueprint.route("/jobs/<identifier:number>/needs", methods=["POST"])
@blueprint.arguments(NewNeedSchema)
@blueprint.etag
@blueprint.response(201, NeedSchema)
def add_need(body: dict[str, Any], number: str) -> Any:
    """Add a need to a job that its template did not foresee."""
    job = jobs.find_job(work().session, number)
    need = needs.add_need(work(), job, template_need(body))
    return show_need(job, need, Cover()), location(f"jobs/{job.number}/needs", need.id)


@blueprint.route("/jobs/<identifier:number>/needs/<row:need_id>")
@blueprint.etag
@blueprint.response(200, NeedSchema)
def get_need(number: str, need_id: int) -> Any:
    """Return one need of a job."""
    job = jobs.find_job(work().session, number)
    cover = jobs.covers(work().session, [job])
    return show_need(job, needs.find_need(job, need_id), cover[need_id])


@blueprint.route("/jobs/<identifier:number>/needs/<row:need_id>", methods=["PATCH"])
@blueprint.arguments(ChangedNeedSchema)
@blueprint.etag
@blueprint.response(200, NeedSchema)
def patch_need(body: dict[str, Any], number: str, need_id: int) -> Any:
    """Change a need, decide it, drop it with its reason, or take it back."""
    job = jobs.locked_open(work(), jobs.find_job(work().session, number))
    need = needs.find_need(job, need_id)
    blueprint.check_etag(
        show_need(job, need, jobs.covers(work().session, [job])[need_id]), NeedSchema
    )
    needs.change_need(work(), job, need_id, body)
    return show_need(job, need, jobs.covers(work().session, [job])[need_id])
