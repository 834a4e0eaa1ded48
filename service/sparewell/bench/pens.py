"""Pens: one comes in, and everything that ever happened to it."""

from __future__ import annotations

from typing import Any

from flask import request

from sparewell.bench.asking import Refused, address, ask, every, get, one_page
from sparewell.bench.pages import blueprint, form_key, see, show

READING = "reading:"
PENS_ON_A_PAGE = 40
_PLAIN = ("owner", "condition", "accessories", "model_note", "cost", "note")


@blueprint.get("/pens")
def pens_page() -> Any:
    """List the pens, a page at a time."""
    pens, following = one_page("/v1/pens", "pens", PENS_ON_A_PAGE)
    return show("pens.html", pens=pens, following=following)


@blueprint.get("/pens/new")
def new_pen_page() -> Any:
    """Ask what comes in; the readings asked for are those of its filling system."""
    return _new_pen_page(request.args.to_dict())


def _new_pen_page(typed: dict[str, str], refusal: Refused | None = None) -> Any:
    systems = [
        system
        for system in every("/v1/filling-systems", "filling_systems")
        if not system.get("retired")
    ]
    chosen = next((each for each in systems if each["name"] == typed.get("filling_system")), None)
    page = show(
        "new_pen.html",
        systems=[(system["name"], system["title"]) for system in systems],
        chosen=chosen,
        typed=typed,
        refusal=refusal,
        faults=refusal.by_field() if refusal else {},
    )
    return page, refusal.status if refusal else 200


@blueprint.post("/pens/new")
def add_pen() -> Any:
    """Note a pen that came in, and open its job."""
    typed = request.form.to_dict()
    readings = {
        name.removeprefix(READING): text.strip()
        for name, text in typed.items()
        if name.startswith(READING) and text.strip()
    }
    materials = [each.strip() for each in typed.get("materials", "").split(",") if each.strip()]
    body: dict[str, Any] = {
        "called": typed.get("called", "").strip(),
        "filling_system": typed.get("filling_system", ""),
        "materials": materials,
        "readings": readings,
        **{name: typed[name].strip() for name in _PLAIN if typed.get(name, "").strip()},
    }
    try:
        pen = ask("POST", "/v1/pens", body, key=form_key("-pen")).document
        job = {
            name: typed[name].strip()
            for name in ("wishes", "promised_on", "ceiling")
            if typed.get(name, "").strip()
        }
        opened = ask(
            "POST", "/v1/jobs", {"pen": pen["number"], **job}, key=form_key("-job")
        ).document
    except Refused as refusal:
        return _new_pen_page(typed, refusal)
    return see(f"/jobs/{opened['number']}", said="opened")


@blueprint.get("/pens/<number>")
def pen_page(number: str) -> Any:
    """Show a pen: what is in it, what it measures, and its history."""
    pen = get(address("pens", number))
    return show(
        "pen.html",
        pen=pen,
        contents=every(address("pens", number, "contents"), "contents"),
        history=list(reversed(every(address("pens", number, "history"), "history"))),
        alike=every(address("pens", number, "alike"), "alike"),
        jobs=every("/v1/jobs", "jobs", pen=pen["number"]),
    )


@blueprint.post("/pens/<number>/job")
def open_job(number: str) -> Any:
    """Open another job on a pen."""
    job = ask("POST", "/v1/jobs", {"pen": number}, key=form_key()).document
    return see(f"/jobs/{job['number']}", said="opened")
