"""Lots over HTTP: what they are. What is done with them is in `handling`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, String, cast, select

from sparewell.catalogue.operations import change_part, find_part
from sparewell.catalogue.schemas import ChangedPartSchema, PartSchema
from sparewell.catalogue.tables import Part
from sparewell.catalogue.views import show_part
from sparewell.database.numbers import DONOR_PREFIX, id_of, number_of
from sparewell.database.transaction import locked
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.extend.declarations import Range
from sparewell.extend.inputs import SettingValues
from sparewell.lots import operations as lots
from sparewell.lots import search
from sparewell.lots.ageing import fit_by, in_date, over_age
from sparewell.lots.claims import basis
from sparewell.lots.doubts import doubts_of
from sparewell.lots.operations import follow_part
from sparewell.lots.schemas import LotArguments, LotPageSchema, LotSchema
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.places.tables import Place
from sparewell.settings.operations import present_values

blueprint = Blueprint("lots", __name__, url_prefix="/v1", tag="stock")
_THIS_LOT = {"lot_id": "$response.body#/id"}


def show_lot(lot: Lot, settings: SettingValues | None = None) -> dict[str, Any]:
    """Return a lot as its schema shows it."""
    declared = work().declared
    kind = declared.kinds.get(lot.kind)
    age = fit_by(lot, declared, settings or present_values(work().session, declared))
    return {
        "id": lot.id,
        "part": lot.part.number if lot.part else None,
        "kind": lot.kind,
        "place": lot.place.code,
        "parent_lot": lot.parent_lot_id,
        "part_of_lot": lot.part_of_lot_id,
        "donor": number_of(DONOR_PREFIX, lot.donor_id) if lot.donor_id else None,
        "condition": lot.condition,
        "in_hand": lot.in_hand,
        "promised": lot.promised,
        "available": lot.available,
        "over_age": over_age(lot, age, work().now.date()),
        "label": lot.label,
        "measured": lots.measured_nanometres(lot),
        "measured_as_entered": lot.measured,
        "measured_how": lot.measured_how,
        "dimensions": lot.dimensions,
        "basis": basis(lot),
        "attributes": lot.attributes,
        "material": lot.material,
        "material_confidence": lot.material_confidence,
        "made_on": lot.made_on,
        "fit_by": age.day,
        "fit_by_scheme": age.scheme,
        "fit_by_counted_from": age.counted_from,
        "arrived_at": lot.arrived_at,
        "cost": lot.cost_minor,
        "note": lot.note,
        "warnings": doubts_of(kind, lot, age),
    }


@blueprint.route("/lots")
@blueprint.arguments(LotArguments, location="query")
@blueprint.response(200, LotPageSchema)
def list_lots(arguments: dict[str, Any]) -> Any:
    """List lots by what they measure and by what is left of them."""
    statement = select(Lot).where(*_lot_conditions(arguments))
    if "part" in arguments:
        statement = statement.join(Part, Part.id == Lot.part_id)
        statement = statement.where(Part.number == arguments["part"])
    if "place" in arguments:
        statement = statement.join(Place, Place.id == Lot.place_id)
        statement = statement.where(Place.code == arguments["place"])
    settings = present_values(work().session, work().declared)
    if "fit_on" in arguments:
        statement = statement.where(in_date(arguments["fit_on"], work().declared, settings))
    page = page_of(work().session, statement, Lot.id, arguments)
    return answer("lots", page, lambda lot: show_lot(lot, settings))


def _lot_conditions(arguments: Mapping[str, Any]) -> list[ColumnElement[bool]]:
    ranges = {}
    for name in DIMENSIONS:
        low, high = arguments.get(f"{name}_min"), arguments.get(f"{name}_max")
        if low is not None or high is not None:
            ranges[name] = Range(low.nanometres if low else None, high.nanometres if high else None)
    conditions = search.within(ranges)
    for name, wanted in arguments.get("attributes", {}).items():
        conditions.append(cast(Lot.attributes[name].as_string(), String) == wanted)
    if "whose" in arguments:
        conditions = [search.of_a_donor_whose(arguments["whose"], conditions)]
    if "kind" in arguments:
        conditions.append(Lot.kind == arguments["kind"])
    if "donor" in arguments:
        conditions.append(Lot.donor_id == id_of(DONOR_PREFIX, arguments["donor"]))
    if "material" in arguments:
        conditions.append(Lot.material == arguments["material"])
    least = arguments.get("available_min", 0)
    if least > 0:
        conditions += [Lot.has_available.expression, Lot.in_hand - Lot.promised >= least]
    return conditions


@blueprint.route("/lots/<row:lot_id>")
@blueprint.etag
@blueprint.response(200, LotSchema)
def get_lot(lot_id: int) -> Any:
    """Return one lot."""
    return show_lot(lots.find_lot(work().session, lot_id))


@blueprint.route("/parts/<identifier:number>", methods=["PATCH"], tags=["catalogue"])
@blueprint.arguments(ChangedPartSchema)
@blueprint.etag
@blueprint.response(200, PartSchema)
def patch_part(body: dict[str, Any], number: str) -> Any:
    """Change a part; lots that rest on its nominal dimensions follow."""
    part = locked(work().session, find_part(work().session, number))
    blueprint.check_etag(show_part(part), PartSchema)
    change_part(work(), part, body)
    follow_part(work(), part)
    return show_part(part)
