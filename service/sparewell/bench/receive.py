"""Receiving a parcel: which part and which drawer, then the numbers; bag after bag."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import request

from sparewell.bench.asking import Refused, address, ask, every, get
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.bench.pieces import (
    caliper,
    drawer_choices,
    kinds_by_name,
    title_of,
    titles_of_dimensions,
)
from sparewell.bench.typed import Typed, whole_or_text

_NOT_FOUND, _UNPROCESSABLE = 404, 422
_MEASURED = "measured/"


@blueprint.get("/receive")
def receive_page() -> Any:
    """Ask which part came; once it is known, ask for its numbers."""
    form = Typed(request.args)
    if not form["part"]:
        return _which_page(form)
    return _numbers_page(form)


def _which_page(form: Typed) -> tuple[str, int]:
    """Ask which part came, and into which drawer it goes."""
    kinds = kinds_by_name()
    put_away = form["bag"] if form["bag"].isdecimal() else ""
    page = show(
        "receive_which.html",
        form=form,
        parts=every("/v1/parts", "parts"),
        drawers=drawer_choices(),
        kinds=sorted(
            ((name, title_of(kinds, name)) for name in kinds), key=lambda each: each[1].lower()
        ),
        put_away=put_away,
        doubts=_doubts(put_away),
    )
    return page, form.status


def _doubts(bag: str) -> list[str]:
    """Return what is odd about the bag just put away."""
    if not bag:
        return []
    try:
        return list(get(address("lots", bag))["warnings"])
    except Refused as refusal:
        if refusal.status != _NOT_FOUND:
            raise
        return []


def _known_part(number: str) -> dict[str, Any] | None:
    try:
        found: dict[str, Any] = get(address("parts", number))
    except Refused as refusal:
        if refusal.status != _NOT_FOUND:
            raise
        return None
    return found


def _numbers_page(form: Typed) -> tuple[str, int]:
    """Ask for what is counted, measured and read off the packet."""
    part, kinds = _known_part(form["part"]), kinds_by_name()
    kind = kinds.get(part["kind"] if part else form["kind"])
    if kind is None:
        unknown = {"kind": f"{form['part']} is not in the catalogue yet: say what it is"}
        if part is not None:
            unknown = {"part": f"no plugin here knows {part['kind']}, so none can be taken in"}
        return _which_page(form.with_faults(unknown, _UNPROCESSABLE))
    (lead, lead_title), *others = titles_of_dimensions(kind)
    page = show(
        "receive.html",
        form=form,
        part=part,
        kind=kind,
        kind_title=title_of(kinds, kind["name"]),
        lead=(f"{_MEASURED}{lead}", lead_title, _nominal(part, lead)),
        others=[(f"{_MEASURED}{name}", title, _nominal(part, name)) for name, title in others],
        materials=kind["materials"],
        drawers=drawer_choices(),
    )
    return page, form.status


def _nominal(part: Mapping[str, Any] | None, dimension: str) -> str:
    """Return what the catalogue says of a dimension."""
    value = part["dimensions"].get(dimension) if part else None
    return "" if value is None else f"catalogued as {caliper(value)}"


@blueprint.post("/receive")
def receive() -> Any:
    """Put a bag away, and offer the next one of the same parcel."""
    form = Typed(request.form)
    if not form["part"]:
        return _which_page(form.with_faults({"part": "say which part came"}, _UNPROCESSABLE))
    try:
        if _known_part(form["part"]) is None:
            new = {"number": form["part"], **form.filled("kind", "name", "material")}
            ask("POST", "/v1/parts", new, key=form_key("-part"))
    except Refused as refusal:
        places = {"number": "part"}
        located = {places.get(name, name): said for name, said in refusal.by_field().items()}
        return _which_page(form.refused(refusal, located))
    body: dict[str, Any] = form.filled(
        "part", "drawer", "label", "material", "made_on", "cost", "note"
    )
    body["measured"] = {
        name.removeprefix(_MEASURED): typed
        for name, typed in form.values.items()
        if name.startswith(_MEASURED) and typed
    }
    if form["quantity"]:
        body["quantity"] = whole_or_text(form["quantity"])
    try:
        lot = ask("POST", "/v1/lots", body, key=form_key()).document
    except Refused as refusal:
        return _numbers_page(form.refused(refusal))
    return see("/receive", said="received", drawer=lot["place"], bag=lot["id"])
