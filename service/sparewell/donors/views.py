"""Donors over HTTP: keeping a pen to be stripped, its checklist, and taking pieces out."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.donors import from_pen as to_donor
from sparewell.donors import operations as donors
from sparewell.donors.changing import change_donor
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
from sparewell.donors.showing import shown_component, shown_donor, shown_donors
from sparewell.donors.tables import Donor
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.lots.showing import shown_lots
from sparewell.pens import operations as pens

blueprint = Blueprint("donors", __name__, url_prefix="/v1")
_THIS_DONOR = {"number": "$response.body#/number"}
_FROM_A_DONOR = {
    "read": Link("get", "/v1/donors/{number}", _THIS_DONOR),
    "change": Link("patch", "/v1/donors/{number}", _THIS_DONOR),
}


@blueprint.route("/donors", methods=["POST"])
@blueprint.arguments(NewDonorSchema)
@blueprint.etag
@blueprint.response(201, DonorSchema, links=_FROM_A_DONOR)
def add_donor(body: dict[str, Any]) -> Any:
    """Keep a pen to be stripped; what it has becomes pieces that can be found and promised."""
    donor = donors.create_donor(work(), **body)
    return shown_donor(work(), donor), location("donors", donor.number)


@blueprint.route("/pens/<identifier:number>/to-donor", methods=["POST"])
@blueprint.arguments(ToDonorSchema)
@blueprint.etag
@blueprint.response(201, DonorSchema, links=_FROM_A_DONOR)
def make_donor(body: dict[str, Any], number: str) -> Any:
    """Make a donor of a pen that is not worth repairing."""
    donor = to_donor.make_donor(work(), pens.find_pen(work().session, number), **body)
    return shown_donor(work(), donor), location("donors", donor.number)


@blueprint.route("/donors")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, DonorPageSchema)
def list_donors(arguments: dict[str, Any]) -> Any:
    """List the donors, oldest first."""
    page = page_of(work().session, select(Donor), Donor.id, arguments)
    return answer("donors", page, lambda rows: shown_donors(work(), rows))


@blueprint.route("/donors/<identifier:number>")
@blueprint.etag
@blueprint.response(200, DonorSchema)
def get_donor(number: str) -> Any:
    """Return one donor with its checklist."""
    return shown_donor(work(), donors.find_donor(work().session, number))


@blueprint.route("/donors/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedDonorSchema)
@blueprint.etag
@blueprint.response(200, DonorSchema)
def patch_donor(body: dict[str, Any], number: str) -> Any:
    """Change what is said of a donor itself."""
    donor = locked(work().session, donors.find_donor(work().session, number))
    blueprint.check_etag(shown_donor(work(), donor), DonorSchema)
    return shown_donor(work(), change_donor(work(), donor, body))


@blueprint.route("/donors/<identifier:number>/components", methods=["POST"])
@blueprint.arguments(NewComponentsSchema)
@blueprint.etag
@blueprint.response(201, DonorSchema, links=_FROM_A_DONOR)
def add_components(body: dict[str, Any], number: str) -> Any:
    """Add lines to a donor's checklist."""
    donor = donors.find_donor(work().session, number)
    donor = donors.add_components(work(), donor, body["components"], body["note"])
    return shown_donor(work(), donor), location("donors", donor.number)


@blueprint.route("/donors/<identifier:number>/components/<row:component_id>")
@blueprint.etag
@blueprint.response(200, ComponentSchema)
def get_component(number: str, component_id: int) -> Any:
    """Return one line of a donor's checklist."""
    donor = donors.find_donor(work().session, number)
    component = donors.find_component(work().session, donor, component_id)
    return shown_component(work(), component)


@blueprint.route("/donors/<identifier:number>/components/<row:component_id>", methods=["PATCH"])
@blueprint.arguments(ChangedComponentSchema)
@blueprint.etag
@blueprint.response(200, ComponentSchema)
def patch_component(body: dict[str, Any], number: str, component_id: int) -> Any:
    """Change a line of the checklist: looked at, found damaged, found missing, found again."""
    donor = donors.find_donor(work().session, number)
    component = donors.find_component(work().session, donor, component_id)
    component = locked(work().session, component)
    blueprint.check_etag(shown_component(work(), component), ComponentSchema)
    component = donors.change_component(work(), component, body)
    return shown_component(work(), component)


@blueprint.route("/donors/<identifier:number>/strip", methods=["POST"])
@blueprint.arguments(StripSchema)
@blueprint.response(200, StrippedSchema)
def strip_donor(body: dict[str, Any], number: str) -> Any:
    """Take components out of a donor into a drawer; they keep the donor's number for ever."""
    donor = donors.find_donor(work().session, number)
    lot_ids = body.pop("lots")
    return {"lots": shown_lots(work(), donors.strip(work(), donor, lot_ids, **body))}
