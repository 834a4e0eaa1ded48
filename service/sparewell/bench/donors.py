"""Donors: what is still in each, the checklist, looking, and taking pieces out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final
from urllib.parse import quote

from flask import request

from sparewell.bench.asking import Refused, address, ask, get, one_page
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.bench.pieces import (
    HAPPENED,
    drawer_choices,
    kinds_by_name,
    title_of,
    titles_of_dimensions,
)
from sparewell.bench.typed import Typed, whole_or_text

DONORS_ON_A_PAGE: Final = 50
LOOKED: Final = ("present", "damaged", "missing")
NO_PIECES: Final = frozenset({"damaged", "missing"})
_HAS, _INSIDE = "has-", "inside-"
_UNPROCESSABLE, _CONFLICT = 422, 409

Component = Mapping[str, Any]


@blueprint.get("/donors")
def donors_page() -> Any:
    """List the donors with what is still in them."""
    donors, following = one_page("/v1/donors", "donors", DONORS_ON_A_PAGE)
    kinds = kinds_by_name()
    rows = [
        {
            **donor,
            "inside": [
                (title_of(kinds, each["kind"]), each["state"], each["promised_to"])
                for each in donor["components"]
                if each["place"] == donor["number"]
            ],
        }
        for donor in donors
    ]
    return show("donors.html", donors=rows, following=following)


@blueprint.get("/donors/new")
def new_donor_page() -> Any:
    """Ask what the pen has that is kept to be stripped."""
    return _new_donor_page(Typed({}))


def _new_donor_page(form: Typed) -> tuple[str, int]:
    kinds = kinds_by_name()
    choices = sorted(((name, title_of(kinds, name)) for name in kinds), key=lambda each: each[1])
    return show("donor_new.html", kinds=choices, form=form), form.status


@blueprint.post("/donors/new")
def add_donor() -> Any:
    """Keep a pen to be stripped."""
    form = Typed(request.form)
    has = [name.removeprefix(_HAS) for name in form.values if name.startswith(_HAS)]
    inside = {kind: form[f"{_INSIDE}{kind}"] for kind in has if form[f"{_INSIDE}{kind}"]}
    order = _holders_first(has, inside)
    faults = _impossible_holders(has, inside, order)
    if faults:
        return _new_donor_page(form.with_faults(faults, _UNPROCESSABLE))
    body: dict[str, Any] = form.filled("called", "note")
    body["materials"] = [each.strip() for each in form["materials"].split(",") if each.strip()]
    body["components"] = [
        {"kind": kind, **({"part_of": order.index(inside[kind])} if kind in inside else {})}
        for kind in order
    ]
    try:
        made = ask("POST", "/v1/donors", body, key=form_key()).document
    except Refused as refusal:
        return _new_donor_page(form.refused(refusal))
    return see(f"/donors/{quote(made['number'])}", said="donor")


def _holders_first(has: Sequence[str], inside: Mapping[str, str]) -> list[str]:
    """Return the kinds so that what holds another comes before it; a ring of them is left out."""
    order: list[str] = []
    left = list(has)
    while left:
        ready = [kind for kind in left if kind not in inside or inside[kind] in order]
        if not ready:
            break
        order += ready
        left = [kind for kind in left if kind not in ready]
    return order


def _impossible_holders(
    has: Sequence[str], inside: Mapping[str, str], order: Sequence[str]
) -> dict[str, str]:
    faults = {
        f"{_INSIDE}{kind}": "tick the piece it is fixed in as well"
        for kind, holder in inside.items()
        if holder not in has
    }
    return faults or {
        f"{_INSIDE}{kind}": "these would be fixed in each other"
        for kind in has
        if kind not in order
    }


@blueprint.get("/donors/<number>")
def donor_page(number: str) -> Any:
    """Show a donor's checklist."""
    return _donor_page(number, Typed({}))


def _donor_page(number: str, form: Typed, of: str = "") -> tuple[str, int]:
    donor, kinds = get(address("donors", number)), kinds_by_name()
    lines = [
        {
            **component,
            "depth": depth,
            "title": title_of(kinds, component["kind"]),
            "is_inside": component["place"] == donor["number"],
            "verdict": _verdict(component, donor["number"]),
            "job": component["taken"]["job"] if component["taken"] else None,
            "may_be_looked_at": component["place"] == donor["number"]
            or component["state"] in NO_PIECES,
            "measures": _measures(component, kinds),
        }
        for depth, component in _nested(donor["components"])
    ]
    page = show(
        "donor.html",
        donor=donor,
        lines=lines,
        drawers=drawer_choices(),
        kinds=sorted(((name, title_of(kinds, name)) for name in kinds), key=lambda each: each[1]),
        holders=[(line["id"], line["title"]) for line in lines if line["is_inside"]],
        looked=LOOKED,
        states=(*LOOKED, "unchecked"),
        ticked=request.form.getlist("lots"),
        form=form,
        of=of,
    )
    return page, form.status


def _verdict(component: Component, number: str) -> str:
    """Say where a piece is now, or what was found of it."""
    if component["state"] in NO_PIECES:
        return str(component["state"])
    if component["taken"]:
        return HAPPENED.get(component["taken"]["verb"], "gone")
    if component["place"] not in {None, number}:
        return f"taken out, lies in {component['place']}"
    return "not looked at" if component["state"] == "unchecked" else str(component["state"])


def _measures(component: Component, kinds: Mapping[str, Mapping[str, Any]]) -> list[Any]:
    kind = kinds.get(component["kind"])
    titles = titles_of_dimensions(kind) if kind else []
    return [
        (title, component["measured"][name])
        for name, title in titles
        if name in component["measured"]
    ]


def _nested(components: Sequence[Component]) -> Iterator[tuple[int, Component]]:
    """Yield the components with how deep each is fixed in others, each after what holds it."""
    below: dict[int | None, list[Component]] = {}
    for each in components:
        below.setdefault(each["part_of"], []).append(each)
    waiting = [(0, each) for each in reversed(below.get(None, []))]
    while waiting:
        depth, component = waiting.pop()
        yield depth, component
        waiting += [(depth + 1, each) for each in reversed(below.get(component["id"], []))]


@blueprint.post("/donors/<number>/looked")
def look_at_component(number: str) -> Any:
    """Note what was found of a component; what somebody else noted meanwhile is not passed over."""
    form = Typed(request.form)
    path = address("donors", number, "components", form["component"] or "0")
    try:
        answer = ask("GET", path)
        if answer.document["state"] != form["seen"]:
            found = f"Somebody noted it as {answer.document['state']} meanwhile. Look again."
            return _donor_page(number, form.with_faults({}, _CONFLICT, found), "looked")
        ask("PATCH", path, {"state": form["state"]}, tag=answer.tag)
    except Refused as refusal:
        return _donor_page(number, form.refused(refusal, {}), "looked")
    return see(f"/donors/{quote(number)}", said="looked")


@blueprint.post("/donors/<number>/strip")
def strip_donor(number: str) -> Any:
    """Take the ticked pieces out, with what is fixed in them."""
    form = Typed(request.form)
    lots = [whole_or_text(each) for each in request.form.getlist("lots")]
    if not lots:
        nothing = {"lots": "tick what you take out"}
        return _donor_page(number, form.with_faults(nothing, _UNPROCESSABLE), "strip")
    try:
        body = {"lots": lots, **form.filled("drawer", "note")}
        ask("POST", address("donors", number, "strip"), body, key=form_key())
    except Refused as refusal:
        return _donor_page(number, form.refused(refusal), "strip")
    return see(f"/donors/{quote(number)}", said="stripped")


@blueprint.post("/donors/<number>/add")
def add_component(number: str) -> Any:
    """Add a line to the checklist."""
    form = Typed(request.form)
    new: dict[str, Any] = form.filled("kind", "state")
    if form["part_of"]:
        new["part_of_component"] = whole_or_text(form["part_of"])
    try:
        body = {"components": [new]}
        ask("POST", address("donors", number, "components"), body, key=form_key())
    except Refused as refusal:
        found = {name.rpartition("/")[2]: said for name, said in refusal.by_field().items()}
        found.pop("components", None)
        if "part_of_component" in found:
            found["part_of"] = found["part_of_component"]
        return _donor_page(number, form.refused(refusal, found), "add")
    return see(f"/donors/{quote(number)}", said="added")
