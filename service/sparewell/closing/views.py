"""The end of a job over HTTP."""

from __future__ import annotations

from typing import Any

from flask import request

from sparewell.closing import operations as closing
from sparewell.closing.schemas import CloseJobSchema, EndJobSchema
from sparewell.edge.api import Blueprint
from sparewell.edge.beforehand import beforehand, found_beforehand
from sparewell.edge.context import work
from sparewell.jobs import operations as jobs
from sparewell.jobs.schemas import JobSchema
from sparewell.jobs.showing import shown_job
from sparewell.work import Work

blueprint = Blueprint("closing", __name__, url_prefix="/v1", tag="under_way")


def _to_close(reading: Work, number: str) -> closing.JudgedTests:
    said = blueprint.ARGUMENTS_PARSER.parse(CloseJobSchema, request, location="json")
    job = jobs.find_job(reading.session, number)
    return closing.prepare(reading, job, said.get("tests", ()))


@blueprint.route("/jobs/<identifier:number>/close", methods=["POST"])
@blueprint.arguments(CloseJobSchema)
@blueprint.response(200, JobSchema)
@beforehand(_to_close)
def close_job(body: dict[str, Any], number: str) -> Any:
    """Close a job and note how it went; nothing may be promised to it any more.

    A required need that is open, a step that is not done, a timer that runs and a test that failed
    are 409, each named, unless `anyway` says why the job is closed all the same.
    """
    judged = found_beforehand()
    body.pop("tests", None)
    job = jobs.find_job(work().session, number)
    return shown_job(work(), closing.close(work(), job, judged, closing.Closing(**body)))


@blueprint.route("/jobs/<identifier:number>/cancel", methods=["POST"])
@blueprint.arguments(EndJobSchema)
@blueprint.response(200, JobSchema)
def cancel_job(body: dict[str, Any], number: str) -> Any:
    """Cancel a job and give up everything promised to it."""
    job = jobs.find_job(work().session, number)
    return shown_job(work(), closing.cancel(work(), job, body["note"]))
