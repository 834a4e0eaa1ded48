"""A pen's way over HTTP: waiting, steps, closing, outcomes, history, worth."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Row, select

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.fields import HIGHEST_ID
from sparewell.edge.paging import PageArguments, answer, page_of, page_of_rows
from sparewell.measure.money import money_text
from sparewell.repairs import closing, jobs, outcomes, pens, showing, waiting
from sparewell.repairs.alike import alike, settings_of_likeness
from sparewell.repairs.bench_tables import Outcome, Timer
from sparewell.repairs.history import contents, history
from sparewell.repairs.schemas import EndJobSchema, JobSchema
from sparewell.repairs.tables import Pen
from sparewell.repairs.under_way.schemas import (
    AlikePageSchema,
    ChangedTimerSchema,
    CloseJobSchema,
    ContentPageSchema,
    EventPageSchema,
    NewOutcomeSchema,
    NewTimerSchema,
    NoteSchema,
    OutcomePageSchema,
    OutcomeSchema,
    StepDoneSchema,
    TimerArguments,
    TimerPageSchema,
    TimerSchema,
    WorthSchema,
)
from sparewell.repairs.views import show_job
from sparewell.repairs.waiting import Wait
from sparewell.repairs.worth import worth
from sparewell.stock import lots, reservations
from sparewell.stock.tables import Lot, Reservation

blueprint = Blueprint(
    "under_way", __name__, url_prefix="/v1", description="Waiting, steps, outcomes, history, worth"
)
_THIS_TIMER = {"timer_id": "$response.body#/id"}
_FROM_A_TIMER = {
    "read": Link("get", "/v1/timers/{timer_id}", _THIS_TIMER),
    "move": Link("patch", "/v1/timers/{timer_id}", _THIS_TIMER),
    "end": Link("post", "/v1/timers/{timer_id}/done", _THIS_TIMER),
}
_FROM_AN_OUTCOME = {
    "lot": Link("get", "/v1/lots/{lot_id}/outcomes", {"lot_id": "$response.body#/lot"})
}


def _show_timer(row: Row[Timer, int, int, str]) -> dict[str, Any]:
    timer, job_id, pen_id, called = row
    state = waiting.state_of(timer, work().now)
    return {
        "id": timer.id,
        **showing.numbers(job_id, pen_id),
        "called": called,
        "what": timer.what,
        "until": timer.until,
        "state": state,
        "ready": state == waiting.READY,
        "created_at": timer.created_at,
        "done_at": timer.done_at,
    }


def _show_one_timer(timer: Timer) -> dict[str, Any]:
    return _show_timer(waiting.with_job(work().session, timer))


def _wait(body: dict[str, Any]) -> Wait:
    return Wait(body.get("until"), body.get("minutes"))


@blueprint.route("/jobs/<identifier:number>/timers", methods=["POST"])
@blueprint.arguments(NewTimerSchema)
@blueprint.etag
@blueprint.response(201, TimerSchema, links=_FROM_A_TIMER)
def add_timer(body: dict[str, Any], number: str) -> Any:
    """Let a job wait for something, until a moment or for so many minutes."""
    job = jobs.find_job(work().session, number)
    timer = waiting.set_timer(work(), job, body["what"], _wait(body))
    return _show_one_timer(timer), location("timers", timer.id)


@blueprint.route("/timers")
@blueprint.arguments(TimerArguments, location="query")
@blueprint.response(200, TimerPageSchema)
def list_timers(arguments: dict[str, Any]) -> Any:
    """List the timers of all jobs, soonest first."""
    statement = waiting.timers_of_all(
        work().now, arguments.get("state"), arguments.get("before")
    ).limit(min(arguments["after"] + arguments["limit"] + 1, HIGHEST_ID))
    rows = work().session.execute(statement).all()
    return answer("timers", page_of_rows(rows, arguments), _show_timer)


@blueprint.route("/timers/<row:timer_id>")
@blueprint.etag
@blueprint.response(200, TimerSchema)
def get_timer(timer_id: int) -> Any:
    """Return one timer."""
    return _show_one_timer(waiting.find_timer(work().session, timer_id))


@blueprint.route("/timers/<row:timer_id>", methods=["PATCH"])
@blueprint.arguments(ChangedTimerSchema)
@blueprint.etag
@blueprint.response(200, TimerSchema)
def patch_timer(body: dict[str, Any], timer_id: int) -> Any:
    """Move a timer, or call it something else."""
    timer = locked(work().session, waiting.find_timer(work().session, timer_id))
    blueprint.check_etag(_show_one_timer(timer), TimerSchema)
    wait = _wait(body) if body.keys() & {"until", "minutes"} else None
    return _show_one_timer(
        waiting.change_timer(work(), timer, wait, body.get("what"), body["note"])
    )


@blueprint.route("/timers/<row:timer_id>/done", methods=["POST"])
@blueprint.arguments(NoteSchema)
@blueprint.response(200, TimerSchema)
def end_timer(body: dict[str, Any], timer_id: int) -> Any:
    """End a timer, whether its time is over or not."""
    timer = waiting.find_timer(work().session, timer_id)
    return _show_one_timer(waiting.finish_timer(work(), timer, body["note"]))


@blueprint.route("/jobs/<identifier:number>/steps/<row:position>/done", methods=["POST"])
@blueprint.arguments(StepDoneSchema)
@blueprint.response(200, JobSchema)
def do_step(body: dict[str, Any], number: str, position: int) -> Any:
    """Note that a step is done, or that this pen does not need it; steps are counted from 1."""
    job = jobs.find_job(work().session, number)
    return show_job(waiting.mark_step(work(), job, position, **body, is_done=True))


@blueprint.route("/jobs/<identifier:number>/steps/<row:position>/undone", methods=["POST"])
@blueprint.arguments(NoteSchema)
@blueprint.response(200, JobSchema)
def undo_step(body: dict[str, Any], number: str, position: int) -> Any:
    """Note that a step is not done after all; that it was said to be is kept."""
    job = jobs.find_job(work().session, number)
    return show_job(waiting.mark_step(work(), job, position, body["note"], is_done=False))


@blueprint.route("/jobs/<identifier:number>/close", methods=["POST"])
@blueprint.arguments(CloseJobSchema)
@blueprint.response(200, JobSchema)
def close_job(body: dict[str, Any], number: str) -> Any:
    """Close a job and note how it went; nothing may be promised to it any more.

    A required need that is open, a step that is not done, a timer that runs and a test that failed
    are 409, each named, unless `anyway` says why the job is closed all the same.
    """
    job = jobs.find_job(work().session, number)
    return show_job(closing.close(work(), job, closing.Closing(**body)))


@blueprint.route("/jobs/<identifier:number>/cancel", methods=["POST"])
@blueprint.arguments(EndJobSchema)
@blueprint.response(200, JobSchema)
def cancel_job(body: dict[str, Any], number: str) -> Any:
    """Cancel a job and give up everything promised to it."""
    job = jobs.find_job(work().session, number)
    return show_job(closing.cancel(work(), job, body["note"]))


@blueprint.route("/reservations/<row:reservation_id>/outcomes", methods=["POST"])
@blueprint.arguments(NewOutcomeSchema)
@blueprint.response(201, OutcomeSchema, links=_FROM_AN_OUTCOME)
def add_outcome(body: dict[str, Any], reservation_id: int) -> Any:
    """Note how used pieces turned out; what was said before is kept, and the latest counts."""
    reservation = reservations.find_reservation(work().session, reservation_id)
    told = outcomes.add_outcome(work(), reservation, **body)
    (fitting,) = outcomes.fittings_of(work().session, Reservation.id == reservation.id)
    at = {"Location": f"/v1/lots/{fitting.lot.id}/outcomes"}
    return showing.outcome(told, fitting), at


@blueprint.route("/lots/<row:lot_id>/outcomes")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, OutcomePageSchema)
def list_outcomes(arguments: dict[str, Any], lot_id: int) -> Any:
    """List how pieces of a lot and its family turned out, and the pens to look at next."""
    session = work().session
    family = outcomes.family_of(session, lots.find_lot(session, lot_id))
    fittings = outcomes.fittings_of(session, Lot.id.in_(family))
    by_reservation = {fitting.reservation.id: fitting for fitting in fittings}
    told = select(Outcome).join(Reservation, Reservation.id == Outcome.reservation_id)
    page = page_of(session, told.where(Reservation.lot_id.in_(family)), Outcome.id, arguments)
    body, headers = answer(
        "outcomes",
        page,
        lambda told: showing.outcome(told, by_reservation[told.reservation_id]),
    )
    sisters = outcomes.sisters(fittings)
    shown = sisters[: outcomes.MOST_SISTERS]
    inside = contents(session, {sister.pen.id: sister.pen for sister in shown}.values())
    return body | {
        "sisters": [showing.sister(each, inside[each.pen.id]) for each in shown],
        "sisters_left_out": len(sisters) - len(shown),
    }, headers


def _pen(number: str) -> Pen:
    return pens.find_pen(work().session, number)


@blueprint.route("/pens/<identifier:number>/alike")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, AlikePageSchema)
def list_alike(arguments: dict[str, Any], number: str) -> Any:
    """List what pens like this one took, and how it turned out."""
    rows = alike(work(), _pen(number))
    body, headers = answer("alike", page_of_rows(rows, arguments), showing.past_size)
    return body | {"settings": settings_of_likeness(work())}, headers


@blueprint.route("/pens/<identifier:number>/history")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, EventPageSchema)
def list_history(arguments: dict[str, Any], number: str) -> Any:
    """List everything that ever happened to a pen, the earliest first."""
    return answer("history", page_of_rows(history(work(), _pen(number)), arguments))


@blueprint.route("/pens/<identifier:number>/contents")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, ContentPageSchema)
def list_contents(arguments: dict[str, Any], number: str) -> Any:
    """List what is in a pen now: from which lot, since when, by whom."""
    pen = _pen(number)
    rows = contents(work().session, [pen])[pen.id]
    return answer(
        "contents",
        page_of_rows(rows, arguments),
        lambda inside: showing.content(
            inside,
            outcomes.size_of(work().declared, inside.lot),
            outcomes.glue_of(work().declared, inside.lot, inside.job.glue),
        ),
    )


@blueprint.route("/jobs/<identifier:number>/worth")
@blueprint.response(200, WorthSchema)
def get_worth(number: str) -> Any:
    """Reckon whether a repair is worth it, and say what is missing from the reckoning."""
    job = jobs.find_job(work().session, number)
    found = worth(work(), job)
    difference = found.difference_minor
    return {
        "job": job.number,
        "pen": job.pen.number,
        "lines": found.lines,
        "total": found.total_minor,
        "complete": not found.missing,
        "value_as_restored": found.value_as_restored_minor,
        "difference": None if difference is None else money_text(difference),
        "missing": found.missing,
        "settings": found.settings,
    }
