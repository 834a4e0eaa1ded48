"""What is on the bench: what waits for what, and each job from its readings to its close."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from flask import request

from sparewell.bench import job_page
from sparewell.bench.asking import (
    Refused,
    address,
    ask,
    change,
    every,
    get,
    latest_group,
    one_page,
)
from sparewell.bench.pages import blueprint, form_key, inside, see, show
from sparewell.bench.typed import whole_or_text

VERBS = {"fetch": "fetched", "use": "used", "release": "released", "spoil": "spoiled"}
JOBS_ON_A_PAGE = 40


def typed(name: str) -> str:
    """Return what was typed into a field of the present form."""
    return request.form.get(name, "").strip()


def _given(*names: str) -> dict[str, str]:
    """Return the fields that were filled in."""
    return {name: typed(name) for name in names if typed(name)}


def _numbers(*names: str) -> dict[str, Any]:
    """Return the fields that were filled in as whole numbers; the API refuses what is none."""
    return {name: whole_or_text(typed(name)) for name in names if typed(name)}


@blueprint.get("/jobs")
def jobs_page() -> Any:
    """Show what is on the bench, and what is ready."""
    open_jobs = every("/v1/jobs", "jobs", state="open")
    return show(
        "jobs.html",
        jobs=open_jobs,
        pens=pens_of(open_jobs),
        ready=every("/v1/timers", "timers", state="ready"),
        running=every("/v1/timers", "timers", state="running"),
    )


@blueprint.get("/jobs/ended")
def ended_jobs_page() -> Any:
    """Show the jobs that are closed or cancelled, a page at a time."""
    jobs, following = one_page("/v1/jobs", "jobs", JOBS_ON_A_PAGE)
    ended = [job for job in jobs if job["state"] != "open"]
    return show("ended.html", jobs=ended, pens=pens_of(ended), following=following)


def pens_of(jobs: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the pens of jobs by their numbers."""
    return {number: get(address("pens", number)) for number in {job["pen"] for job in jobs}}


def _job(number: str, refusal: Refused | None = None, at: str = "") -> Any:
    page = show("job.html", **job_page.gather(number), refusal=refusal, at=at, typed=request.form)
    return page, refusal.status if refusal else 200


def _done(number: str, said: str, at: str = "", undo: str = "") -> Any:
    return see(f"/jobs/{number}", at=at, said=said, undo=undo)


@blueprint.post("/undo/<row:group>")
def undo(group: int) -> Any:
    """Undo what the notice on a page spoke of, and show that page again."""
    ask("POST", address("movements", group, "undo"), {}, key=form_key())
    return see(inside(typed("to")), said="undone")


@blueprint.get("/jobs/<number>")
def job(number: str) -> Any:
    """Show one job: what it needs, what it has, what comes next."""
    return _job(number)


@blueprint.post("/jobs/<number>/reserve")
def reserve(number: str) -> Any:
    """Reserve everything a job lacks, or one piece of a bag for one need."""
    body: dict[str, Any] = {}
    if typed("lot"):
        body = {"quantity": 1, **_numbers("lot", "quantity", "need"), **_given("override")}
    try:
        ask("POST", address("jobs", number, "reservations"), body, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "needs")
    return _done(number, "reserved", "promised")


@blueprint.post("/jobs/<number>/reservations/<row:reservation>")
def act_on_reservation(number: str, reservation: int) -> Any:
    """Fetch, fit, ruin or give back what is promised."""
    verb = typed("verb")
    body = {"note": typed("note"), **_numbers("quantity")}
    try:
        made = ask("POST", address("reservations", reservation, verb), body, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "promised")
    at, undo = "needs" if verb == "spoil" else "promised", ""
    if verb == "spoil":
        undo = latest_group(reservation=reservation, verb="spoiled")
    elif verb == "use":
        undo = f"{made.document['job']}-bag-{made.document['lot']}-fitted-{reservation}"
    return _done(number, VERBS.get(verb, "changed"), at, undo)


@blueprint.post("/jobs/<number>/put-back/<row:lot>")
def put_back(number: str, lot: int) -> Any:
    """Take out again what was fitted: the way back from a press too much, too."""
    body = {
        "reservation": whole_or_text(typed("reservation")),
        "condition": typed("condition"),
        "note": typed("note"),
    }
    try:
        ask("POST", address("lots", lot, "put-back"), body, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "done")
    return _done(number, "put-back", "needs")


@blueprint.post("/jobs/<number>/readings")
def add_readings(number: str) -> Any:
    """Note readings of the pen; earlier ones stay."""
    readings = {
        name.removeprefix("reading:"): text.strip()
        for name, text in request.form.items()
        if name.startswith("reading:") and text.strip()
    }
    pen = get(address("jobs", number))["pen"]
    try:
        ask("POST", address("pens", pen, "readings"), {"readings": readings}, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "readings")
    return _done(number, "measured", "needs")


@blueprint.post("/jobs/<number>/needs/<row:need>")
def change_need(number: str, need: int) -> Any:
    """Decide a need, drop it with the reason, or take it back."""
    bodies: dict[str, dict[str, Any]] = {
        "drop": {"dropped": True, "why": typed("why")},
        "take_back": {"dropped": False},
        "decide": {"decided": True},
    }
    body = bodies.get(typed("what"), {})
    try:
        change(address("jobs", number, "needs", need), body)
    except Refused as refusal:
        return _job(number, refusal, "needs")
    return _done(number, "decided", "needs")


@blueprint.post("/jobs/<number>/steps/<row:position>")
def mark_step(number: str, position: int) -> Any:
    """Note that a step is done, or not after all."""
    verb = "undone" if typed("undone") else "done"
    try:
        body = _given("not_needed") if verb == "done" else {}
        ask("POST", address("jobs", number, "steps", position, verb), body, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "steps")
    return _done(number, "step", "steps", "" if verb == "undone" else f"{number}-step-{position}")


@blueprint.post("/jobs/<number>/timers")
def add_timer(number: str) -> Any:
    """Let the job wait for something."""
    body = {"what": typed("what"), "minutes": whole_or_text(typed("minutes"))}
    try:
        ask("POST", address("jobs", number, "timers"), body, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "waiting")
    return _done(number, "waits", "waiting")


@blueprint.post("/timers/<row:timer>")
def end_timer(timer: int) -> Any:
    """End a timer, here or in the list of all."""
    document = ask("POST", address("timers", timer, "done"), {}, key=form_key()).document
    return see("/jobs", said="ready") if typed("to") == "all" else _done(document["job"], "ready")


@blueprint.post("/jobs/<number>/agree")
def agree(number: str) -> Any:
    """Note what the owner wishes and agreed to, and what is known of time and value."""
    body: dict[str, Any] = _given(
        *("wishes", "promised_on", "estimate", "ceiling", "postage", "value_as_restored", "note")
    )
    body |= _numbers("time_minutes")
    if typed("approval"):
        body["approval"] = {"state": typed("approval"), "by": typed("approved_by") or None}
    try:
        change(address("jobs", number), body)
    except Refused as refusal:
        return _job(number, refusal, "agreed")
    return _done(number, "changed", "agreed")


@blueprint.post("/jobs/<number>/close")
def close(number: str) -> Any:
    """Close a job and say how each piece turned out."""
    body: dict[str, Any] = _given("glue", "ink", "value_as_restored", "note", "anyway")
    body["outcomes"] = [
        {"reservation": whole_or_text(name.removeprefix("outcome:")), "outcome": value}
        for name, value in request.form.items()
        if name.startswith("outcome:") and value
    ]
    body["tests"] = [
        {"name": name.removeprefix("test:"), "value": value.strip()}
        for name, value in request.form.items()
        if name.startswith("test:") and value.strip()
    ]
    body |= _numbers("time_minutes")
    try:
        ask("POST", address("jobs", number, "close"), body, key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "close")
    return _done(number, "closed")


@blueprint.post("/jobs/<number>/cancel")
def cancel(number: str) -> Any:
    """Cancel a job; what was promised to it is free."""
    try:
        ask("POST", address("jobs", number, "cancel"), _given("note"), key=form_key())
    except Refused as refusal:
        return _job(number, refusal, "close")
    return _done(number, "cancelled")
