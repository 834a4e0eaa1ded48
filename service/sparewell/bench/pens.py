"""Pens: one comes in, and everything that ever happened to it."""

from __future__ import annotations

from typing import Any

from flask import request
from sqlalchemy import select
from sqlalchemy.orm import lazyload

from sparewell.bench.pages import Shown, blueprint, one_page, or_again, see, show
from sparewell.bench.typed import Typed, by_field, comma_separated
from sparewell.edge.context import work
from sparewell.edge.errors import checked, status_of
from sparewell.errors import Refusal
from sparewell.filling_systems import operations as templates
from sparewell.history.operations import history, jobs_of
from sparewell.jobs import agreed as intake
from sparewell.jobs import operations as jobs
from sparewell.jobs.schemas import NewJobSchema
from sparewell.jobs.tables import Job
from sparewell.outcomes.alike import alike
from sparewell.outcomes.contents import contents
from sparewell.pens import operations as pens
from sparewell.pens.schemas import NewPenSchema
from sparewell.pens.tables import Pen

READING = "reading:"
PENS_ON_A_PAGE = 40
_SAID_OF_PEN = ("owner", "condition", "accessories", "model_note", "cost", "note")
_SAID_OF_JOB = ("wishes", "promised_on", "ceiling")


@blueprint.get("/pens")
def pens_page() -> Shown:
    """List the pens, a page at a time."""
    statement = select(Pen).options(lazyload(Pen.readings))
    rows, following = one_page(statement, Pen.id, PENS_ON_A_PAGE)
    return show("pens.html", pens=rows, following=following)


@blueprint.get("/pens/new")
def new_pen_page() -> Shown:
    """Ask what comes in; the readings asked for are those of its filling system."""
    return _new_pen_page(request.args.to_dict())


def _new_pen_page(typed: dict[str, str], refusal: Refusal | None = None) -> Shown:
    offered = {
        each.system.name: each.system
        for each in templates.all_systems(work())
        if each.retired_at is None
    }
    chosen = offered.get(typed.get("filling_system", ""))
    page = show(
        "new_pen.html",
        systems=[(system.name, system.title) for system in offered.values()],
        chosen=chosen,
        readings=templates.described(work().declared, chosen.readings).values() if chosen else (),
        typed=typed,
        refusal=refusal,
        faults=by_field(refusal) if refusal else {},
    )
    return page, status_of(refusal) if refusal else 200


@blueprint.post("/pens/new")
def add_pen() -> Shown:
    """Note a pen that came in, and open its job."""
    form = Typed(request.form)
    with or_again(lambda refusal: _new_pen_page(dict(form.values), refusal)):
        said: dict[str, Any] = {
            "called": form["called"],
            "filling_system": form["filling_system"],
            "materials": comma_separated(form["materials"]),
            "readings": form.of(READING),
            **form.filled(*_SAID_OF_PEN),
        }
        opened = open_job_on(new_pen(said), form.filled(*_SAID_OF_JOB))
    return see(f"/jobs/{opened.number}", said="opened")


def new_pen(said: dict[str, Any]) -> Pen:
    """Note a pen that came in. Raises :class:`Impossible`."""
    return pens.create_pen(work(), pens.NewPen.said(checked(NewPenSchema(), said)))


def open_job_on(pen: Pen, said: dict[str, Any]) -> Job:
    """Open a job on a pen, with what its owner wishes. Raises :class:`Impossible`."""
    body = checked(NewJobSchema(), {"pen": pen.number, **said})
    body.pop("pen")
    return intake.change_job(work(), jobs.open_job(work(), pen, body.pop("note")), body)


@blueprint.get("/pens/<identifier:number>")
def pen_page(number: str) -> Shown:
    """Show a pen: what is in it, what it measures, and its history."""
    session, pen = work().session, pens.find_pen(work().session, number)
    known = pens.present_readings(pen)
    its_jobs = jobs_of(session, pen)
    return show(
        "pen.html",
        pen=pen,
        readings=known,
        warnings=pens.reading_warnings(work().declared, known),
        contents=contents(session, [pen])[pen.id],
        history=list(reversed(history(work(), pen, its_jobs))),
        alike=alike(work(), pen),
        jobs=[(job.number, job.state) for job in its_jobs],
    )


@blueprint.post("/pens/<identifier:number>/job")
def open_job(number: str) -> Shown:
    """Open another job on a pen."""
    job = open_job_on(pens.find_pen(work().session, number), {})
    return see(f"/jobs/{job.number}", said="opened")
