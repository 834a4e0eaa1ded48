"""Donors: what is still in each, the checklist, looking, and taking pieces out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final
from urllib.parse import quote

from flask import request
from sqlalchemy import select

from sparewell.bench.pages import Shown, blueprint, one_page, or_form_again, refuse, see, show
from sparewell.bench.pieces import (
    HAPPENED,
    choices_of_kinds,
    drawer_choices,
    title_of,
    titles_of_dimensions,
)
from sparewell.bench.typed import Typed, by_field, comma_separated, row_of, whole_or_text
from sparewell.cautions.operations import of_keeping
from sparewell.database.numbers import PEN_PREFIX, number_of
from sparewell.database.transaction import locked
from sparewell.donors import operations as donors
from sparewell.donors.checklists import holders_first, nested
from sparewell.donors.operations import Fate
from sparewell.donors.schemas import (
    ChangedComponentSchema,
    NewComponentsSchema,
    NewDonorSchema,
    StripSchema,
)
from sparewell.donors.tables import Component, ComponentState, Donor
from sparewell.edge.context import work
from sparewell.edge.errors import checked
from sparewell.errors import Refusal
from sparewell.lots.operations import measured_nanometres
from sparewell.measure.wording import millimetres_text

DONORS_ON_A_PAGE: Final = 50
LOOKED: Final = (ComponentState.PRESENT, ComponentState.DAMAGED, ComponentState.MISSING)
_HAS, _INSIDE = "has-", "inside-"
_CONFLICT = 409


@dataclass(frozen=True)
class ChecklistLine:
    """One component of a donor as its page shows it."""

    row: Component
    title: str
    depth: int
    fate: Fate
    is_inside: bool
    verdict: str
    measures: Sequence[tuple[str, str]]
    attributes: Mapping[str, Any]

    @property
    def may_be_looked_at(self) -> bool:
        """Whether it can be pressed what was seen of it."""
        return self.is_inside or self.row.state not in donors.PIECES


@blueprint.get("/donors")
def donors_page() -> Shown:
    """List the donors with what is still in them."""
    rows, following = one_page(select(Donor), Donor.id, DONORS_ON_A_PAGE)
    fates = donors.fates(work().session, [each for donor in rows for each in donor.components])
    inside = [[line for line in _lines(donor, fates) if line.is_inside] for donor in rows]
    return show("donors.html", donors=list(zip(rows, inside, strict=True)), following=following)


def _lines(donor: Donor, fates: Mapping[int, Fate]) -> list[ChecklistLine]:
    """Return the checklist, each piece after the one that it is fixed in."""
    places = {each.id: place for place, each in enumerate(donor.components)}
    holders = [each.part_of_id and places.get(each.part_of_id) for each in donor.components]
    return [_line(donor, donor.components[place], depth, fates) for depth, place in nested(holders)]


def _line(
    donor: Donor, component: Component, depth: int, fates: Mapping[int, Fate]
) -> ChecklistLine:
    lot, fate = component.lot, fates.get(component.lot_id or 0, Fate())
    place = lot.place.code if lot and lot.in_hand else None
    kind = work().declared.kinds.get(component.kind)
    known = measured_nanometres(lot) if lot else {}
    return ChecklistLine(
        component,
        title_of(component.kind),
        depth,
        fate,
        place == donor.number,
        _verdict(component.state, fate, None if place == donor.number else place),
        [
            (title, millimetres_text(known[name]))
            for name, title in (titles_of_dimensions(kind) if kind else ())
            if name in known
        ],
        lot.attributes if lot else component.attributes,
    )


def _verdict(state: str, fate: Fate, elsewhere: str | None) -> str:
    """Say where a piece is now, or what was found of it."""
    if state not in donors.PIECES:
        return state
    if fate.gone:
        return HAPPENED.get(fate.gone, "gone")
    if elsewhere is not None:
        return f"taken out, lies in {elsewhere}"
    return "not looked at" if state == ComponentState.UNCHECKED else state


@blueprint.get("/donors/new")
def new_donor_page() -> Shown:
    """Ask what the pen has that is kept to be stripped."""
    return _new_donor_page(Typed({}))


def _new_donor_page(form: Typed) -> tuple[str, int]:
    return show("donor_new.html", kinds=choices_of_kinds(), form=form), form.status


@blueprint.post("/donors/new")
def add_donor() -> Shown:
    """Keep a pen to be stripped."""
    form = Typed(request.form)
    has = list(form.of(_HAS))
    inside = {kind: form[f"{_INSIDE}{kind}"] for kind in has if form[f"{_INSIDE}{kind}"]}
    missing = {kind: holder for kind, holder in inside.items() if holder not in has}
    holders = [has.index(inside[kind]) if kind in inside.keys() - missing else None for kind in has]
    order = [has[place] for place in holders_first(holders)]
    faults = dict.fromkeys(missing, "tick the piece it is fixed in as well") or {
        kind: "these would be fixed in each other" for kind in has if kind not in order
    }
    if faults:
        located = {f"{_INSIDE}{kind}": said for kind, said in faults.items()}
        refuse(_new_donor_page, form, located)
    body: dict[str, Any] = form.filled("called", "note")
    body["materials"] = comma_separated(form["materials"])
    body["components"] = [
        {"kind": kind} | ({"part_of": order.index(inside[kind])} if kind in inside else {})
        for kind in order
    ]
    with or_form_again(_new_donor_page, form):
        made = donors.create_donor(work(), **checked(NewDonorSchema(), body))
    return see(f"/donors/{quote(made.number)}", said="donor")


@blueprint.get("/donors/<identifier:number>")
def donor_page(number: str) -> Shown:
    """Show a donor's checklist."""
    return _donor_page(number, "", Typed({}))


def _donor_page(number: str, of: str, form: Typed) -> tuple[str, int]:
    donor = donors.find_donor(work().session, number)
    lines = _lines(donor, donors.fates(work().session, donor.components))
    page = show(
        "donor.html",
        donor=donor,
        pen=number_of(PEN_PREFIX, donor.pen_id) if donor.pen_id else None,
        cautions=of_keeping(work().declared, donor.materials),
        lines=lines,
        drawers=drawer_choices(),
        kinds=choices_of_kinds(),
        holders=[(line.row.id, line.title) for line in lines if line.is_inside],
        looked=LOOKED,
        states=(*LOOKED, ComponentState.UNCHECKED),
        ticked=request.form.getlist("lots"),
        form=form,
        of=of,
    )
    return page, form.status


@blueprint.post("/donors/<identifier:number>/looked")
def look_at_component(number: str) -> Shown:
    """Note what was found of a component; what somebody else noted meanwhile is not passed over."""
    form, page = Typed(request.form), partial(_donor_page, number, "looked")
    with or_form_again(page, form, lambda _: {}):
        session, donor = work().session, donors.find_donor(work().session, number)
        component = donors.find_component(session, donor, row_of(form["component"]))
        component = locked(session, component)
        if component.state != form["seen"]:
            found = f"Somebody noted it as {component.state} meanwhile. Look again."
            refuse(page, form, {}, found, _CONFLICT)
        changes = checked(ChangedComponentSchema(), {"state": form["state"]})
        donors.change_component(work(), component, changes)
    return see(f"/donors/{quote(number)}", said="looked")


@blueprint.post("/donors/<identifier:number>/strip")
def strip_donor(number: str) -> Shown:
    """Take the ticked pieces out, with what is fixed in them."""
    form, page = Typed(request.form), partial(_donor_page, number, "strip")
    lots = [whole_or_text(each) for each in request.form.getlist("lots")]
    if not lots:
        refuse(page, form, {"lots": "tick what you take out"})
    with or_form_again(page, form):
        body = checked(StripSchema(), {"lots": lots, **form.filled("drawer", "note")})
        donor = donors.find_donor(work().session, number)
        donors.strip(work(), donor, body.pop("lots"), **body)
    return see(f"/donors/{quote(number)}", said="stripped")


@blueprint.post("/donors/<identifier:number>/add")
def add_component(number: str) -> Shown:
    """Add a line to the checklist."""
    form = Typed(request.form)
    new: dict[str, Any] = form.filled("kind", "state")
    if form["part_of"]:
        new["part_of_component"] = whole_or_text(form["part_of"])

    def located(refusal: Refusal) -> dict[str, str]:
        found = {name.rpartition("/")[2]: said for name, said in by_field(refusal).items()}
        found.pop("components", None)
        if "part_of_component" in found:
            found["part_of"] = found["part_of_component"]
        return found

    with or_form_again(partial(_donor_page, number, "add"), form, located):
        body = checked(NewComponentsSchema(), {"components": [new]})
        donor = donors.find_donor(work().session, number)
        donors.add_components(work(), donor, body["components"])
    return see(f"/donors/{quote(number)}", said="added")
