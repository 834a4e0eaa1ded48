"""Measure and see: from the caliper to the answer, to the drawer, to a promise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from flask import request
from sqlalchemy import select

from sparewell.bench import results
from sparewell.bench.pages import Shown, blueprint, or_again, see, show
from sparewell.bench.pens import new_pen, open_job_on
from sparewell.bench.readings_form import (
    ReadingsForm,
    body_of,
    form_of,
    readings_of,
    with_faults,
)
from sparewell.bench.typed import by_field, whole_or_text
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.database.transaction import locked
from sparewell.edge.beforehand import beforehand, found_beforehand
from sparewell.edge.context import work
from sparewell.edge.errors import checked, status_of
from sparewell.errors import Impossible, NotFound, Problem, Refusal
from sparewell.extend.calculation import Calculation
from sparewell.extend.declarations import Calculator
from sparewell.extend.pen_materials import materials_of
from sparewell.filling_systems import operations as templates
from sparewell.fitting.operations import Fit, find_calculator, fit, run_of
from sparewell.fitting.schemas import inputs_schema
from sparewell.jobs import operations as jobs
from sparewell.jobs.tables import Job, JobState
from sparewell.pens import operations as pens
from sparewell.pens.schemas import NewPenSchema, NewReadingsSchema
from sparewell.pens.tables import Pen
from sparewell.plans import reserving
from sparewell.plans.imagined import come_true, imagined_job, imagined_readings
from sparewell.plans.naming import NamedLot, named_lot
from sparewell.plans.schemas import NewReservationSchema
from sparewell.work import Work

MOST_CANDIDATES = 8
NEW_PEN = "new"


@blueprint.get("/")
def first_page() -> Shown:
    """Show first what is done most."""
    return measure_page()


@blueprint.get("/measure")
def measure_page() -> Shown:
    """Ask what is to be sized."""
    calculators = work().declared.calculators.values()
    return show(
        "measure.html",
        choosing=[each for each in calculators if each.fits_pieces],
        working_out=[each for each in calculators if not each.fits_pieces],
    )


@dataclass(frozen=True)
class SizedAnswer:
    """What a calculator answered, and the pieces in hand where it chooses among them."""

    calculation: Calculation
    found: Fit | None = None


@blueprint.get("/measure/<identifier:name>")
def size_page(name: str) -> Shown:
    """Take readings and answer, as often as they change."""
    return _size_page(name, request.args.to_dict())


def _size_page(name: str, typed: dict[str, str], refusal: Refusal | None = None) -> tuple[str, int]:
    calculator = find_calculator(work().declared, name)
    form, answer = form_of(calculator, typed), None
    status = status_of(refusal) if refusal else 200
    try:
        answer = _answer(calculator, form, typed.get("job", ""))
    except Impossible as faulty:
        form = with_faults(form, faulty.problems or [Problem("", faulty.detail)])
        status = status if form.still_needed and not form.has_faults else status_of(faulty)
    page = show(
        "size.html",
        calculator=calculator,
        form=form,
        answer=answer,
        shown=results.shown(calculator, answer.calculation.result) if answer else None,
        refusal=refusal,
        whom=_whom(calculator, typed, refusal) if calculator.fits_pieces else None,
    )
    return page, status


def _answer(calculator: Calculator, form: ReadingsForm, job: str) -> SizedAnswer | None:
    """Return the answer to a form; none to an empty one. Raises :class:`Impossible`."""
    if not form.typed:
        return None
    read = checked(inputs_schema(calculator)(), body_of(form))
    if not calculator.fits_pieces:
        return SizedAnswer(run_of(work(), calculator.name, read).calculate())
    run = run_of(work(), calculator.name, read, _materials_of(job))
    found = fit(work(), run, limit=MOST_CANDIDATES)
    return SizedAnswer(found.calculation, found)


def _materials_of(number: str) -> Sequence[str]:
    """Return what the pen of the job that was chosen is made of, so that its page agrees."""
    if number in ("", NEW_PEN):
        return ()
    try:
        pen = jobs.find_job(work().session, number).pen
    except NotFound:
        return ()
    return list(dict.fromkeys(materials_of(pen.materials, pen.components)))


def _whom(
    calculator: Calculator, typed: Mapping[str, str], refusal: Refusal | None
) -> dict[str, Any]:
    """Return for whom a piece could be reserved: a job on the bench, or a pen not yet noted."""
    systems = [
        (each.system.name, each.system.title)
        for each in templates.all_systems(work())
        if any(need.calculator == calculator.name for need in each.system.needs)
    ]
    on_the_bench = (
        select(Job.id, Pen.called)
        .join(Pen, Pen.id == Job.pen_id)
        .where(Job.state == JobState.OPEN)
        .order_by(Job.id.desc())
    )
    numbers = [
        (number_of(JOB_PREFIX, row), called) for row, called in work().session.execute(on_the_bench)
    ]
    return {
        "jobs": [(number, f"{called} ({number})") for number, called in numbers],
        "job": typed.get("job", ""),
        "systems": systems,
        "filling_system": typed.get("filling_system", ""),
        "called": typed.get("called", ""),
        "faults": by_field(refusal) if refusal else {},
    }


def _refuse_nobody(typed: Mapping[str, str]) -> None:
    """Refuse to reserve for nobody: no pen and no job is made that somebody did not ask for."""
    faults = {}
    if not typed.get("job"):
        faults["job"] = "choose a job, or a pen not noted yet"
    elif typed["job"] == NEW_PEN:
        if not typed.get("called", "").strip():
            faults["called"] = "say what the pen is called"
        if not typed.get("filling_system"):
            faults["filling_system"] = "choose how it fills"
    if faults:
        problems = [Problem(f"/{name}", said) for name, said in faults.items()]
        raise Impossible(f"for whom? {'; '.join(faults.values())}", problems)


def _to_reserve(reading: Work, name: str) -> NamedLot:
    """Judge the bag that is named for the job as it will be, with what was read off the pen."""
    typed = request.form.to_dict()
    form = form_of(find_calculator(reading.declared, name), typed)
    _refuse_nobody(typed)
    if typed["job"] == NEW_PEN:
        new = pens.NewPen.said(checked(NewPenSchema(), _said_of_new_pen(typed, form)))
        job = imagined_job(reading, pens.described_pen(reading, new))
    else:
        job = jobs.find_job(reading.session, typed["job"])
        new_readings = _new_readings(job.pen, form) if typed.get("keep_readings") else {}
        if new_readings:
            more = pens.readings_for(reading, job.pen, new_readings)
            job = imagined_readings(reading, job, more)
    return named_lot(reading, job, _said_to_reserve(typed)["lot"])


@blueprint.post("/measure/<identifier:name>")
@beforehand(_to_reserve)
def reserve_measured(name: str) -> Shown:
    """Reserve a piece for a job on the bench, or for a pen that is noted on the way."""
    typed = request.form.to_dict()
    form = form_of(find_calculator(work().declared, name), typed)
    with or_again(lambda refusal: _size_page(name, typed, refusal)):
        found = found_beforehand()
        if typed["job"] == NEW_PEN:
            job = open_job_on(new_pen(_said_of_new_pen(typed, form)), {})
            found = come_true(found, job)
        reserving.promise(work(), found, _said_to_reserve(typed))
        if typed["job"] != NEW_PEN and typed.get("keep_readings"):
            _keep_readings(work().session.get_one(Pen, found.ground.pen_id), form)
    return see(f"/jobs/{found.job.number}", said="reserved")


def _said_to_reserve(typed: Mapping[str, str]) -> dict[str, Any]:
    why = typed.get("override", "").strip()
    said = {"lot": whole_or_text(typed.get("lot", "")), "quantity": 1}
    return checked(NewReservationSchema(), said | ({"override": why} if why else {}))


def _said_of_new_pen(typed: Mapping[str, str], form: ReadingsForm) -> dict[str, Any]:
    return {
        "called": typed["called"].strip(),
        "filling_system": typed["filling_system"],
        "readings": readings_of(form),
    }


def _new_readings(pen: Pen, form: ReadingsForm) -> dict[str, Any]:
    """Return the readings of a form that are not what the pen has already."""
    known = {name: reading.entered for name, reading in pens.present_readings(pen).items()}
    new = {name: text for name, text in readings_of(form).items() if known.get(name) != text}
    return checked(NewReadingsSchema(), {"readings": new})["readings"] if new else {}


def _keep_readings(pen: Pen, form: ReadingsForm) -> None:
    """Note readings with the pen of a job, where they are not what it has already."""
    pen = locked(work().session, pen)
    new = _new_readings(pen, form)
    if new:
        pens.add_readings(work(), pen, new)
