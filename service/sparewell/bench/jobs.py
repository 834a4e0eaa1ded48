"""What is on the bench: what waits for what, and each job from its readings to its close."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from typing import Any, Final

from flask import abort, request
from sqlalchemy import Select, select
from sqlalchemy.orm import contains_eager, lazyload, selectinload
from sqlalchemy.sql.base import ExecutableOption

from sparewell.bench import job_page
from sparewell.bench.job_page import tag_of_agreed, tag_of_sale
from sparewell.bench.pages import (
    CHANGED_MEANWHILE,
    Shown,
    blueprint,
    inside,
    one_page,
    or_again,
    see,
    show,
)
from sparewell.bench.pieces import way_back
from sparewell.bench.typed import Typed, by_field, whole_or_text
from sparewell.closing import operations as closing
from sparewell.closing.schemas import CloseJobSchema, EndJobSchema
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.database.transaction import locked
from sparewell.edge.beforehand import beforehand, found_beforehand
from sparewell.edge.context import work
from sparewell.edge.errors import checked, status_of
from sparewell.errors import Conflict, Impossible, Refusal
from sparewell.handling import conversions
from sparewell.handling.schemas import PutBackSchema
from sparewell.jobs import agreed as intake
from sparewell.jobs import needs, progress
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import cost_warnings, parts_costs
from sparewell.jobs.schemas import ChangedJobSchema, ChangedNeedSchema, StepDoneSchema
from sparewell.jobs.steps import stands_at
from sparewell.jobs.tables import Job, JobState, Timer
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots import operations as lots
from sparewell.pens import operations as pens
from sparewell.pens.schemas import NewReadingsSchema
from sparewell.pens.tables import Pen
from sparewell.plans import moving, reserving, undoing
from sparewell.plans.naming import NamedLot
from sparewell.plans.schemas import NewReservationSchema
from sparewell.reservations import operations as reservations
from sparewell.reservations.schemas import VerbSchema
from sparewell.reservations.tables import Reservation
from sparewell.timers import operations as waiting
from sparewell.timers.schemas import NewTimerSchema
from sparewell.work import Work

VerbOperation = Callable[[Work, int, int | None, str], Reservation]
# What is pressed of a promised piece: what does it, and what is said of it then.
VERBS: Final[Mapping[str, tuple[VerbOperation, str]]] = {
    "fetch": (reservations.fetch, "fetched"),
    "use": (reservations.use, "used"),
    "release": (reservations.release, "released"),
    "spoil": (reservations.spoil, "spoiled"),
}
JOBS_ON_A_PAGE = 40
_NOT_FOUND = 404


def jobs_with_pens(*kept: ExecutableOption) -> Select[Job]:
    """Return the jobs with their pens, without the readings of these, and with what is named."""
    pens_alone = contains_eager(Job.pen).options(lazyload(Pen.readings))
    return select(Job).join(Job.pen).options(pens_alone, *kept)


@blueprint.get("/jobs")
def jobs_page() -> Shown:
    """Show what is on the bench, and what is ready."""
    session = work().session
    statement = jobs_with_pens(selectinload(Job.step_marks)).where(Job.state == JobState.OPEN)
    rows = session.scalars(statement.order_by(Job.id)).unique().all()
    covers, costs = jobs.covers(session, rows), parts_costs(session, rows)
    timers = waiting.timers_of_all(work().now).where(Timer.done_at.is_(None))
    return show(
        "jobs.html",
        jobs=[
            (
                job,
                stands_at(job),
                [(need, covers[need.id].state(need)) for need in job.needs],
                cost_warnings(job, costs[job.id]),
            )
            for job in rows
        ],
        timers=[
            (timer, number_of(JOB_PREFIX, job), called, progress.state_of(timer, work().now))
            for timer, job, _, called in session.execute(timers)
        ],
    )


@blueprint.get("/jobs/ended")
def ended_jobs_page() -> Shown:
    """Show the jobs that are closed or cancelled, a page at a time."""
    statement = jobs_with_pens(lazyload(Job.needs)).where(Job.state != JobState.OPEN)
    rows, following = one_page(statement, Job.id, JOBS_ON_A_PAGE)
    return show("ended.html", jobs=rows, following=following)


def _page(number: str, refusal: Refusal | None = None, at: str = "") -> Shown:
    page = show(
        "job.html",
        **job_page.gather(number),
        refusal=refusal,
        faults=by_field(refusal) if refusal else {},
        at=at,
        typed=request.form,
    )
    return page, status_of(refusal) if refusal else 200


@contextmanager
def _of(number: str, at: str) -> Iterator[Job]:
    """Give the job that a form is of; where it is refused, its page is shown again there."""
    with _or_page_of(number, at):
        yield jobs.find_job(work().session, number)


def _or_page_of(number: str, at: str) -> AbstractContextManager[None]:
    return or_again(lambda refusal: _page(number, refusal, at))


def _done(number: str, said: str, at: str = "", undo: str = "") -> Shown:
    return see(f"/jobs/{number}", at=at, said=said, undo=undo)


def _to_undo(reading: Work, group: int) -> undoing.Undoing | None:
    return undoing.prepare(reading, group)


@blueprint.post("/undo/<row:group>")
@beforehand(_to_undo)
def undo(group: int) -> Shown:
    """Undo what the notice on a page spoke of, and show that page again."""
    undoing.undo(work(), found_beforehand(), group)
    return see(inside(request.form.get("to", "").strip()), said="undone")


@blueprint.get("/jobs/<identifier:number>")
def job(number: str) -> Shown:
    """Show one job: what it needs, what it has, what comes next."""
    return _page(number)


def _said_to_reserve() -> dict[str, Any]:
    """Return what the form reserves: a piece of a bag for one need, or everything there is."""
    form = Typed(request.form)
    body: dict[str, Any] = {}
    if form["lot"]:
        body = {"quantity": 1, **form.whole("lot", "quantity", "need"), **form.filled("override")}
    return checked(NewReservationSchema(), body)


def _to_reserve(reading: Work, number: str) -> reserving.BestSet | NamedLot:
    job = jobs.find_job(reading.session, number)
    return reserving.prepare(reading, job, _said_to_reserve())


@blueprint.post("/jobs/<identifier:number>/reserve")
@beforehand(_to_reserve)
def reserve(number: str) -> Shown:
    """Reserve everything a job lacks, or one piece of a bag for one need."""
    with _or_page_of(number, "needs"):
        reserving.promise(work(), found_beforehand(), _said_to_reserve())
    return _done(number, "reserved", "promised")


@blueprint.post("/jobs/<identifier:number>/moved/<row:reservation>")
def read_move(number: str, reservation: int) -> Shown:
    """Note that somebody has read here of a promise that moved."""
    with _of(number, "") as job:
        moving.read_move(work(), job, reservation)
    return _done(number, "read")


def _to_move_back(reading: Work, number: str, reservation: int) -> moving.MovingBack:
    jobs.find_job(reading.session, number)
    return moving.prepare_back(reading, reservation)


@blueprint.post("/jobs/<identifier:number>/moved-back/<row:reservation>")
@beforehand(_to_move_back)
def move_back(number: str, reservation: int) -> Shown:  # noqa: ARG001 - it was read before
    """Let a promise that moved aside have its old pieces again."""
    with _or_page_of(number, "promised"):
        moving.move_back(work(), found_beforehand())
    return _done(number, "reserved", "promised")


@blueprint.post("/jobs/<identifier:number>/reservations/<row:reservation>")
def act_on_reservation(number: str, reservation: int) -> Shown:
    """Fetch, fit, ruin or give back what is promised."""
    form = Typed(request.form)
    verb = form["verb"]
    if verb not in VERBS:
        abort(_NOT_FOUND)
    act, said = VERBS[verb]
    with _of(number, "promised"):
        body = checked(VerbSchema(), {"note": form["note"], **form.whole("quantity")})
        row = act(work(), reservation, body.get("quantity"), body["note"])
    at, back = "promised", ""
    if verb == "spoil":
        at = "needs"
        back = way_back(Movement.reservation_id == reservation, Movement.verb == Verb.SPOILED)
    elif verb == "use":
        of_job = number_of(JOB_PREFIX, row.job_id)
        back = f"{of_job}-bag-{row.lot_id}-fitted-{reservation}"
    return _done(number, said, at, back)


@blueprint.post("/jobs/<identifier:number>/put-back/<row:lot>")
def put_back(number: str, lot: int) -> Shown:
    """Take out again what was fitted: the way back from a press too much, too."""
    form = Typed(request.form)
    with _of(number, "done"):
        said = {**form.whole("reservation"), **form.filled("condition", "note")}
        body = checked(PutBackSchema(), said)
        row = lots.find_lot(work().session, lot)
        conversions.put_back(work(), row, body.pop("reservation"), **body)
    return _done(number, "put-back", "needs")


@blueprint.post("/jobs/<identifier:number>/readings")
def add_readings(number: str) -> Shown:
    """Note readings of the pen; earlier ones stay."""
    with _of(number, "readings") as job:
        said = {"readings": Typed(request.form).of("reading:")}
        body = checked(NewReadingsSchema(), said)
        pens.add_readings(work(), locked(work().session, job.pen), body["readings"])
    return _done(number, "measured", "needs")


@blueprint.post("/jobs/<identifier:number>/needs/<row:need>")
def change_need(number: str, need: int) -> Shown:
    """Decide a need, drop it with the reason, or take it back."""
    form = Typed(request.form)
    changes: dict[str, dict[str, Any]] = {
        "drop": {"dropped": True, "why": form["why"]},
        "take_back": {"dropped": False},
        "decide": {"decided": True},
    }
    with _of(number, "needs") as job:
        if form["what"] not in changes:
            raise Impossible.at("/what", f"must be one of {', '.join(changes)}")
        body = checked(ChangedNeedSchema(), changes[form["what"]])
        needs.change_need(work(), job, need, body)
    return _done(number, "decided", "needs")


@blueprint.post("/jobs/<identifier:number>/steps/<row:position>")
def mark_step(number: str, position: int) -> Shown:
    """Note that a step is done, or not after all."""
    form = Typed(request.form)
    is_done = not form["undone"]
    with _of(number, "steps") as job:
        said = {"not_needed": form["not_needed"]} if "not_needed" in form.values else {}
        body = checked(StepDoneSchema(), said if is_done else {})
        progress.mark_step(work(), job, position, **body, is_done=is_done)
    return _done(number, "step", "steps", f"{number}-step-{position}" if is_done else "")


@blueprint.post("/jobs/<identifier:number>/timers")
def add_timer(number: str) -> Shown:
    """Let the job wait for something."""
    form = Typed(request.form)
    said = {"what": form["what"], "minutes": whole_or_text(form["minutes"])}
    with _of(number, "waiting") as job:
        body = checked(NewTimerSchema(), said)
        waiting.set_timer(work(), job, body["what"], waiting.Wait(minutes=body["minutes"]))
    return _done(number, "waits", "waiting")


@blueprint.post("/timers/<row:timer>")
def end_timer(timer: int) -> Shown:
    """End a timer, here or in the list of all."""
    ended = waiting.finish_timer(work(), waiting.find_timer(work().session, timer), "")
    if request.form.get("to") == "all":
        return see("/jobs", said="ready")
    return _done(number_of(JOB_PREFIX, ended.job_id), "ready")


@blueprint.post("/jobs/<identifier:number>/agree")
def agree(number: str) -> Shown:
    """Note what the owner wishes and agreed to, and what is known of time and value."""
    form = Typed(request.form)
    figures = ("promised_on", "estimate", "ceiling", "postage", "value_as_restored")
    said: dict[str, Any] = form.filled(*figures) | form.whole("time_minutes")
    said |= form.emptied(*figures, "time_minutes")
    if "wishes" in form.values:
        said["wishes"] = form["wishes"]
    if form["approval"]:
        said["approval"] = {"state": form["approval"], "by": form["approved_by"] or None}
    with _of(number, "agreed") as job:
        body = checked(ChangedJobSchema(), said)
        locked(work().session, job)
        if form["tag"] != tag_of_agreed(job):
            raise Conflict(CHANGED_MEANWHILE)
        intake.change_job(work(), job, body)
    return _done(number, "changed", "agreed")


@blueprint.post("/jobs/<identifier:number>/sold")
def sold(number: str) -> Shown:
    """Note for how much a pen was sold, and until when its warranty runs."""
    form = Typed(request.form)
    of_a_sale = ("sold_on", "price", "warranty_until")
    said: dict[str, Any] = form.filled(*of_a_sale) | form.emptied(*of_a_sale)
    if "sold_to" in form.values:
        said["sold_to"] = form["sold_to"]
    with _of(number, "sold") as job:
        body = checked(ChangedJobSchema(), said)
        locked(work().session, job)
        if form["tag"] != tag_of_sale(job):
            raise Conflict(CHANGED_MEANWHILE)
        intake.change_job(work(), job, body)
    return _done(number, "changed", "sold")


def _said_to_close() -> dict[str, Any]:
    form = Typed(request.form)
    said: dict[str, Any] = form.filled("glue", "ink", "value_as_restored", "note", "anyway")
    said |= form.whole("time_minutes")
    said["outcomes"] = [
        {"reservation": whole_or_text(reservation), "outcome": outcome}
        for reservation, outcome in form.of("outcome:").items()
    ]
    said["tests"] = [{"name": name, "value": value} for name, value in form.of("test:").items()]
    return checked(CloseJobSchema(), said)


def _to_close(reading: Work, number: str) -> closing.JudgedTests:
    job = jobs.find_job(reading.session, number)
    return closing.prepare(reading, job, _said_to_close()["tests"])


@blueprint.post("/jobs/<identifier:number>/close")
@beforehand(_to_close)
def close(number: str) -> Shown:
    """Close a job and say how each piece turned out."""
    with _of(number, "close") as job:
        judged, body = found_beforehand(), _said_to_close()
        del body["tests"]
        closing.close(work(), job, judged, closing.Closing(**body))
    return _done(number, "closed")


@blueprint.post("/jobs/<identifier:number>/cancel")
def cancel(number: str) -> Shown:
    """Cancel a job; what was promised to it is free."""
    with _of(number, "close") as job:
        body = checked(EndJobSchema(), Typed(request.form).filled("note"))
        closing.cancel(work(), job, body["note"])
    return _done(number, "cancelled")
