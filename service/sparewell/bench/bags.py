"""One bag: what it is, what happened to it, who has it promised, and what can be done with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from flask import abort, request

from sparewell.bench.asking import Refused, address, ask, every, get, latest_group
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.bench.pieces import (
    caliper,
    drawer_choices,
    events_of,
    kinds_by_name,
    promises_in_the_way,
    title_of,
    titles_of_dimensions,
)
from sparewell.bench.typed import Typed, whole_or_text

CONDITIONS_PUT_BACK: Final = (
    ("used", "used"),
    ("as new", "as new, not used after all"),
    ("cut", "cut"),
)
_PRECONDITION_FAILED, _NOT_FOUND = 412, 404
_SAYS = ("label", "material", "made_on", "cost", "note")


@dataclass(frozen=True)
class Act:
    """Something done with a bag: the API's verb, and the body that its form stands for."""

    verb: str
    body: Callable[[Typed], dict[str, Any]]
    said: str


def _move(form: Typed) -> dict[str, Any]:
    return form.filled("drawer", "note") | _quantity(form)


def _quantity(form: Typed) -> dict[str, Any]:
    return {"quantity": whole_or_text(form["quantity"])} if form["quantity"] else {}


def _count(form: Typed) -> dict[str, Any]:
    counted = {"counted": whole_or_text(form["counted"])} if form["counted"] else {}
    return form.filled("note") | counted


def _discard(form: Typed) -> dict[str, Any]:
    return form.filled("note") | _quantity(form)


def _cut(form: Typed) -> dict[str, Any]:
    keep = {"keep_offcut": form["keep_offcut"] == "yes"} if form["keep_offcut"] else {}
    return form.filled("length", "note") | _quantity(form) | keep


def _put_back(form: Typed) -> dict[str, Any]:
    which = {"reservation": whole_or_text(form["reservation"])} if form["reservation"] else {}
    return form.filled("condition", "length", "note") | _quantity(form) | which


ACTS: Final[Mapping[str, Act]] = {
    "move": Act("move", _move, "moved"),
    "count": Act("count", _count, "counted"),
    "discard": Act("discard", _discard, "discarded"),
    "cut": Act("cut", _cut, "cut"),
    "put-back": Act("put-back", _put_back, "put-back"),
}
_TAKES_NO_RELEASE = frozenset({"put-back"})


@blueprint.get("/bags/<row:bag>")
def bag_page(bag: int) -> Any:
    """Show one bag."""
    return _bag_page(bag, "", Typed({}))


def _bag_page(bag: int, act: str, form: Typed) -> tuple[str, int]:
    answer = ask("GET", address("lots", bag))
    lot, kinds = answer.document, kinds_by_name()
    kind = kinds.get(lot["kind"])
    reservations = every("/v1/reservations", "reservations", lot=bag)
    page = show(
        "bag.html",
        bag=lot,
        tag=answer.tag,
        title=lot["part"] or title_of(kinds, lot["kind"]),
        kind_title=title_of(kinds, lot["kind"]),
        measured=_measured(lot, kind),
        attributes=_attributes(lot, kind),
        promised=[each for each in reservations if each["promised"]],
        used=[_used(each) for each in reservations if each["used"]],
        conditions=CONDITIONS_PUT_BACK,
        events=events_of(every("/v1/movements", "movements", lot=bag)),
        drawers=[each for each in drawer_choices() if each[0] != lot["place"]],
        may_be_cut=kind is not None
        and any(each["name"] == "length" for each in kind["dimensions"]),
        act=act,
        form=form,
        promises=promises_in_the_way(form.errors),
        to_release=request.form.getlist("release"),
    )
    return page, form.status


def _measured(lot: Mapping[str, Any], kind: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """Return every dimension of the kind: what is known of it, how, and how it was typed."""
    if kind is None:
        titles = [(name, name) for name in lot["dimensions"]]
    else:
        titles = titles_of_dimensions(kind)
    return [
        {
            "name": name,
            "title": title,
            "said": caliper(lot["dimensions"][name]) if name in lot["dimensions"] else "",
            "basis": lot["basis"].get(name),
            "entered": lot["measured_as_entered"].get(name, ""),
            "how": _how(lot["measured_how"].get(name)),
        }
        for name, title in titles
    ]


def _how(how: Mapping[str, Any] | None) -> str:
    """Return "± 0.01 mm, micrometer", as far as it is known."""
    if how is None:
        return ""
    spread = (
        "" if how["spread"] is None else f"± {caliper(how['spread']) if how['spread'] else '0 mm'}"
    )
    return ", ".join(each for each in (spread, how["instrument"]) if each)


def _attributes(lot: Mapping[str, Any], kind: Mapping[str, Any] | None) -> list[tuple[str, Any]]:
    titles = {each["name"]: each["title"] for each in kind["attributes"]} if kind else {}
    return [(titles.get(name, name), value) for name, value in lot["attributes"].items()]


def _used(reservation: Mapping[str, Any]) -> tuple[int, str]:
    return reservation["id"], f"{reservation['job']}: {reservation['used']} used"


@blueprint.post("/bags/<row:bag>/<act>")
def act_on_bag(bag: int, act: str) -> Any:
    """Do something with a bag, and show what came of it."""
    if act not in ACTS:
        abort(_NOT_FOUND)
    prefix = f"{act}-"
    named = {
        name.removeprefix(prefix): value
        for name, value in request.form.items()
        if name.startswith(prefix)
    }
    form = Typed(named)
    body = ACTS[act].body(form)
    release = [whole_or_text(each) for each in request.form.getlist("release")]
    if release and act not in _TAKES_NO_RELEASE:
        body["release"] = release
    try:
        path = address("lots", bag, ACTS[act].verb)
        made = ask("POST", path, body, key=form_key()).document
    except Refused as refusal:
        return _bag_page(bag, act, form.refused(refusal))
    there = made["made"][0]["id"] if "made" in made else made["id"]
    group = "" if act in _TAKES_NO_RELEASE else latest_group(lot=bag, verb=ACTS[act].said)
    return see(f"/bags/{there}", said=ACTS[act].said, undo=group)


@blueprint.post("/bags/<row:bag>/undo")
def undo_on_bag(bag: int) -> Any:
    """Undo what happened to a bag, as far as the ledger allows."""
    form = Typed(request.form)
    try:
        ask("POST", address("movements", form["group"] or "0", "undo"), {}, key=form_key())
    except Refused as refusal:
        return _bag_page(bag, "undo", form.refused(refusal, {}))
    return see(f"/bags/{bag}", said="undone")


@blueprint.post("/bags/<row:bag>/says")
def change_bag(bag: int) -> Any:
    """Note what was measured on a bag, or what it says of itself."""
    form = Typed(request.form)
    before = get(address("lots", bag))
    measured = {
        name.removeprefix("measured/"): typed or None
        for name, typed in form.values.items()
        if name.startswith("measured/")
        and typed != before["measured_as_entered"].get(name.removeprefix("measured/"), "")
    }
    said = {
        name: form[name]
        for name in _SAYS
        if name in form.values and form[name] != (before[name] or "")
    }
    body: dict[str, Any] = {name: text or _emptied(name) for name, text in said.items()}
    if measured:
        body["measured"] = measured
    try:
        ask("PATCH", address("lots", bag), body, tag=form["tag"] or "none")
    except Refused as refusal:
        if refusal.status == _PRECONDITION_FAILED:
            stale = "Somebody changed this bag meanwhile. This is what it says now; send it again."
            return _bag_page(bag, "says", form.with_faults({}, refusal.status, stale))
        return _bag_page(bag, "says", form.refused(refusal))
    return see(f"/bags/{bag}", said="changed")


def _emptied(name: str) -> str | None:
    """Return what stands for nothing in a field of a bag."""
    return {"note": "", "made_on": "unknown"}.get(name)
