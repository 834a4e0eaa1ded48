"""Donors over HTTP: keeping a pen to be stripped, its checklist, and taking pieces out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import select

from sparewell.cautions.operations import of_keeping
from sparewell.database.numbers import PEN_PREFIX, number_of
from sparewell.database.transaction import locked
from sparewell.donors import from_pen as to_donor
from sparewell.donors import operations as donors
from sparewell.donors.operations import Fate
from sparewell.donors.schemas import (
    ChangedComponentSchema,
    ChangedDonorSchema,
    ComponentSchema,
    DonorPageSchema,
    DonorSchema,
    NewComponentsSchema,
    NewDonorSchema,
    StrippedSchema,
    StripSchema,
    ToDonorSchema,
)
from sparewell.donors.tables import Component, Donor
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.lots.operations import measured_nanometres
from sparewell.lots.views import show_lot
from sparewell.pens import operations as pens
from sparewell.settings.operations import present_values

blueprint = Blueprint("donors", __name__, url_prefix="/v1")
_STORING = ({"name": "store", "substance": None},)
_THIS_DONOR = {"number": "$response.body#/number"}
_FROM_A_DONOR = {
    "read": Link("get", "/v1/donors/{number}", _THIS_DONOR),
    "change": Link("patch", "/v1/donors/{number}", _THIS_DONOR),
}


def _show_component(component: Component, fates: Mapping[int, Fate]) -> dict[str, Any]:
    lot = component.lot
    fate = fates.get(component.lot_id or 0, Fate())
    return {
        "id": component.id,
        "kind": component.kind,
        "state": component.state,
        "lot": component.lot_id,
        "part_of": component.part_of_id,
        "place": lot.place.code if lot and lot.in_hand else None,
        "measured": measured_nanometres(lot) if lot else {},
        "attributes": lot.attributes if lot else component.attributes,
        "promised_to": fate.promised_to,
        "reservation": fate.reservation,
        "taken": {"verb": fate.gone, "job": fate.job, "at": fate.at} if fate.gone else None,
        "note": component.note,
    }


def _show_donors(rows: Iterable[Donor]) -> list[dict[str, Any]]:
    found = list(rows)
    fates = donors.fates(work().session, [each for donor in found for each in donor.components])
    return [
        {
            "number": donor.number,
            "called": donor.called,
            "pen": number_of(PEN_PREFIX, donor.pen_id) if donor.pen_id else None,
            "materials": donor.materials,
            "components": [_show_component(each, fates) for each in donor.components],
            "cautions": of_keeping(work().declared, donor.materials),
            "note": donor.note,
            "created_at": donor.created_at,
        }
        for donor in found
    ]


def _show_donor(donor: Donor) -> dict[str, Any]:
    return _show_donors([donor])[0]


@blueprint.route("/donors", methods=["POST"])
@blueprint.arguments(NewDonorSchema)
@blueprint.etag
@blueprint.response(201, DonorSchema, links=_FROM_A_DONOR)
def add_donor(body: dict[str, Any]) -> Any:
    """Keep a pen to be stripped; what it has becomes pieces that can be found and promised."""
    donor = donors.create_donor(work(), **body)
    return _show_donor(donor), location("donors", donor.number)


@blueprint.route("/pens/<identifier:number>/to-donor", methods=["POST"])
@blueprint.arguments(ToDonorSchema)
@blueprint.etag
@blueprint.response(201, DonorSchema, links=_FROM_A_DONOR)
def make_donor(body: dict[str, Any], number: str) -> Any:
    """Make a donor of a pen that is not worth repairing."""
    donor = to_donor.make_donor(work(), pens.find_pen(work().session, number), **body)
    return _show_donor(donor), location("donors", donor.number)


@blueprint.route("/donors")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, DonorPageSchema)
def list_donors(arguments: dict[str, Any]) -> Any:
    """List the donors, oldest first."""
    page = page_of(work().session, select(Donor), Donor.id, arguments)
    body, headers = answer("donors", page)
    return body | {"donors": _show_donors(page.rows)}, headers


@blueprint.route("/donors/<identifier:number>")
@blueprint.etag
@blueprint.response(200, DonorSchema)
def get_donor(number: str) -> Any:
    """Return one donor with its checklist."""
    return _show_donor(donors.find_donor(work().session, number))


@blueprint.route("/donors/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedDonorSchema)
@blueprint.etag
@blueprint.response(200, DonorSchema)
def patch_donor(body: dict[str, Any], number: str) -> Any:
    """Change what is said of a donor itself."""
    donor = locked(work().session, donors.find_donor(work().session, number))
    blueprint.check_etag(_show_donor(donor), DonorSchema)
    for name, value in body.items():
        setattr(donor, name, value)
    work().session.flush()
    return _show_donor(donor)


@blueprint.route("/donors/<identifier:number>/components", methods=["POST"])
@blueprint.arguments(NewComponentsSchema)
@blueprint.etag
@blueprint.response(201, DonorSchema, links=_FROM_A_DONOR)
def add_components(body: dict[str, Any], number: str) -> Any:
    """Add lines to a donor's checklist."""
    donor = donors.find_donor(work().session, number)
    donor = donors.add_components(work(), donor, body["components"], body["note"])
    return _show_donor(donor), location("donors", donor.number)


@blueprint.route("/donors/<identifier:number>/components/<row:component_id>")
@blueprint.etag
@blueprint.response(200, ComponentSchema)
def get_component(number: str, component_id: int) -> Any:
    """Return one line of a donor's checklist."""
    donor = donors.find_donor(work().session, number)
    component = donors.find_component(work().session, donor, component_id)
    return _show_component(component, donors.fates(work().session, [component]))


@blueprint.route("/donors/<identifier:number>/components/<row:component_id>", methods=["PATCH"])
@blueprint.arguments(ChangedComponentSchema)
@blueprint.etag
@blueprint.response(200, ComponentSchema)
def patch_component(body: dict[str, Any], number: str, component_id: int) -> Any:
    """Change a line of the checklist: looked at, found damaged, found missing, found again."""
    donor = donors.find_donor(work().session, number)
    component = donors.find_component(work().session, donor, component_id)
    component = locked(work().session, component)
    fates = donors.fates(work().session, [component])
    blueprint.check_etag(_show_component(component, fates), ComponentSchema)
    component = donors.change_component(work(), component, body)
    return _show_component(component, donors.fates(work().session, [component]))


@blueprint.route("/donors/<identifier:number>/strip", methods=["POST"])
@blueprint.arguments(StripSchema)
@blueprint.response(200, StrippedSchema)
def strip_donor(body: dict[str, Any], number: str) -> Any:
    """Take components out of a donor into a drawer; they keep the donor's number for ever."""
    donor = donors.find_donor(work().session, number)
    lot_ids = body.pop("lots")
    settings = present_values(work().session, work().declared)
    stripped = donors.strip(work(), donor, lot_ids, **body)
    return {"lots": [show_lot(lot, settings) for lot in stripped]}
