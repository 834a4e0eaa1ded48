"""Measure and see: from the caliper to the answer, to the drawer, to a promise."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import request

from sparewell.bench import results
from sparewell.bench.asking import Refused, address, ask, every, get
from sparewell.bench.jobs import pens_of
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.bench.readings_form import Form, body_of, form_of, readings_of, with_faults
from sparewell.bench.typed import whole_or_text
from sparewell.extend.pen_materials import materials_of

MOST_CANDIDATES = 8
NEW_PEN = "new"
_NOT_FOUND, _UNPROCESSABLE = 404, 422


@blueprint.get("/")
@blueprint.get("/measure")
def measure_page() -> Any:
    """Ask what is to be sized."""
    calculators = every("/v1/calculators", "calculators")
    return show(
        "measure.html",
        choosing=[each for each in calculators if each["fits_pieces"]],
        working_out=[each for each in calculators if not each["fits_pieces"]],
    )


@blueprint.get("/measure/<name>")
def size_page(name: str) -> Any:
    """Take readings and answer, as often as they change."""
    return _size_page(name, request.args.to_dict())


def _size_page(name: str, typed: dict[str, str], refusal: Refused | None = None) -> tuple[str, int]:
    calculator = get(address("calculators", name))
    form = form_of(calculator, typed)
    status = refusal.status if refusal else 200
    found, faulty = _answer(calculator, form, typed.get("job", ""))
    if faulty is not None:
        form = with_faults(form, faulty.errors or [{"detail": faulty.detail}])
        status = status if form.still_needed and not _has_faults(form) else faulty.status
    page = show(
        "size.html",
        calculator=calculator,
        form=form,
        found=found,
        shown=results.shown(calculator, found["result"]) if found else None,
        refusal=refusal,
        whom=_whom(calculator, typed, refusal) if calculator["fits_pieces"] else None,
    )
    return page, status


def _has_faults(form: Form) -> bool:
    return bool(form.elsewhere) or any(each.fault for each in form.fields)


def _answer(calculator: dict[str, Any], form: Form, job: str) -> tuple[Any, Refused | None]:
    """Return the answer to a form, or the refusal; neither for an empty one."""
    if not form.typed:
        return None, None
    body = body_of(form)
    asked = "calculators"
    if calculator["fits_pieces"]:
        asked, body["limit"] = "fits", MOST_CANDIDATES
        body |= _materials_of(job)
    try:
        return ask("POST", address(asked, calculator["name"]), body).document, None
    except Refused as refusal:
        if refusal.status != _UNPROCESSABLE:
            raise
        return None, refusal


def _materials_of(job: str) -> dict[str, list[str]]:
    """Return what the pen of the job that was chosen is made of, so that its page agrees."""
    if job in ("", NEW_PEN):
        return {}
    try:
        pen = get(address("pens", get(address("jobs", job))["pen"]))
    except Refused as refusal:
        if refusal.status != _NOT_FOUND:
            raise
        return {}
    said = materials_of(pen["materials"], pen["components"])
    return {"pen_materials": list(dict.fromkeys(said))} if said else {}


def _whom(
    calculator: dict[str, Any], typed: dict[str, str], refusal: Refused | None
) -> dict[str, Any]:
    """Return for whom a piece could be reserved: a job on the bench, or a pen not yet noted."""
    systems = [
        system
        for system in every("/v1/filling-systems", "filling_systems")
        if any(need["calculator"] == calculator["name"] for need in system["needs"])
    ]
    jobs = every("/v1/jobs", "jobs", state="open")
    pens = pens_of(jobs)
    return {
        "jobs": [
            (job["number"], f"{pens[job['pen']]['called']} ({job['number']})")
            for job in reversed(jobs)
        ],
        "job": typed.get("job", ""),
        "systems": [(system["name"], system["title"]) for system in systems],
        "filling_system": typed.get("filling_system", ""),
        "called": typed.get("called", ""),
        "faults": refusal.by_field() if refusal else {},
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
        errors = [{"pointer": f"/{name}", "detail": said} for name, said in faults.items()]
        detail = f"for whom? {'; '.join(faults.values())}"
        raise Refused(_UNPROCESSABLE, {"detail": detail, "errors": errors})


@blueprint.post("/measure/<name>")
def reserve_measured(name: str) -> Any:
    """Reserve a piece for a job on the bench, or for a pen that is noted on the way."""
    typed = request.form.to_dict()
    calculator = get(address("calculators", name))
    form = form_of(calculator, typed)
    try:
        _refuse_nobody(typed)
        job = typed["job"]
        if job == NEW_PEN:
            job = _job_of_new_pen(typed, form)
            typed["job"] = job
        elif typed.get("keep_readings"):
            _keep_readings(job, form)
        lot, why = whole_or_text(typed.get("lot", "")), typed.get("override", "").strip()
        ask(
            "POST",
            address("jobs", job, "reservations"),
            {"lot": lot, "quantity": 1} | ({"override": why} if why else {}),
            key=form_key(),
        )
    except Refused as refusal:
        return _size_page(name, typed, refusal)
    return see(f"/jobs/{job}", said="reserved")


def _job_of_new_pen(typed: dict[str, str], form: Form) -> str:
    pen = ask(
        "POST",
        "/v1/pens",
        {
            "called": typed["called"].strip(),
            "filling_system": typed["filling_system"],
            "readings": readings_of(form),
        },
        key=form_key("-pen"),
    ).document
    job = ask("POST", "/v1/jobs", {"pen": pen["number"]}, key=form_key("-job")).document
    return str(job["number"])


def _keep_readings(job: str, form: Form) -> None:
    """Note readings with the pen of a job, where they are not what it has already."""
    pen = get(address("pens", get(address("jobs", job))["pen"]))
    known = {name: reading["entered"] for name, reading in pen["readings"].items()}
    new = {name: text for name, text in readings_of(form).items() if known.get(name) != text}
    if new:
        ask(
            "POST",
            address("pens", pen["number"], "readings"),
            {"readings": new},
            key=form_key("-readings"),
        )
