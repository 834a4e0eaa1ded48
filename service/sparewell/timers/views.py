"""What jobs wait for, over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.fields import HIGHEST_ID
from sparewell.edge.paging import answer, page_of_rows
from sparewell.jobs import operations as jobs
from sparewell.jobs.schemas import NoteSchema
from sparewell.jobs.tables import Timer
from sparewell.timers import operations as timers
from sparewell.timers.operations import ShownTimer, Wait
from sparewell.timers.schemas import (
    ChangedTimerSchema,
    NewTimerSchema,
    TimerArguments,
    TimerPageSchema,
    TimerSchema,
)

blueprint = Blueprint("timers", __name__, url_prefix="/v1", tag="under_way")
_THIS_TIMER = {"timer_id": "$response.body#/id"}
_FROM_A_TIMER = {
    "read": Link("get", "/v1/timers/{timer_id}", _THIS_TIMER),
    "move": Link("patch", "/v1/timers/{timer_id}", _THIS_TIMER),
    "end": Link("post", "/v1/timers/{timer_id}/done", _THIS_TIMER),
}


def _shown(timer: Timer) -> ShownTimer:
    return timers.shown_timers(work(), [timers.with_job(work().session, timer)])[0]


def _wait(body: dict[str, Any]) -> Wait:
    return Wait(body.get("until"), body.get("minutes"))


@blueprint.route("/jobs/<identifier:number>/timers", methods=["POST"])
@blueprint.arguments(NewTimerSchema)
@blueprint.etag
@blueprint.response(201, TimerSchema, links=_FROM_A_TIMER)
def add_timer(body: dict[str, Any], number: str) -> Any:
    """Let a job wait for something, until a moment or for so many minutes."""
    job = jobs.find_job(work().session, number)
    timer = timers.set_timer(work(), job, body["what"], _wait(body))
    return _shown(timer), location("timers", timer.id)


@blueprint.route("/timers")
@blueprint.arguments(TimerArguments, location="query")
@blueprint.response(200, TimerPageSchema)
def list_timers(arguments: dict[str, Any]) -> Any:
    """List the timers of all jobs, soonest first."""
    statement = timers.timers_of_all(
        work().now, arguments.get("state"), arguments.get("before")
    ).limit(min(arguments["after"] + arguments["limit"] + 1, HIGHEST_ID))
    rows = work().session.execute(statement).all()
    return answer(
        "timers", page_of_rows(rows, arguments), lambda some: timers.shown_timers(work(), some)
    )


@blueprint.route("/timers/<row:timer_id>")
@blueprint.etag
@blueprint.response(200, TimerSchema)
def get_timer(timer_id: int) -> Any:
    """Return one timer."""
    return _shown(timers.find_timer(work().session, timer_id))


@blueprint.route("/timers/<row:timer_id>", methods=["PATCH"])
@blueprint.arguments(ChangedTimerSchema)
@blueprint.etag
@blueprint.response(200, TimerSchema)
def patch_timer(body: dict[str, Any], timer_id: int) -> Any:
    """Move a timer, or call it something else."""
    timer = locked(work().session, timers.find_timer(work().session, timer_id))
    blueprint.check_etag(_shown(timer), TimerSchema)
    wait = _wait(body) if body.keys() & {"until", "minutes"} else None
    return _shown(timers.change_timer(work(), timer, wait, body.get("what"), body["note"]))


@blueprint.route("/timers/<row:timer_id>/done", methods=["POST"])
@blueprint.arguments(NoteSchema)
@blueprint.response(200, TimerSchema)
def end_timer(body: dict[str, Any], timer_id: int) -> Any:
    """End a timer, whether its time is over or not."""
    timer = timers.find_timer(work().session, timer_id)
    return _shown(timers.finish_timer(work(), timer, body["note"]))
