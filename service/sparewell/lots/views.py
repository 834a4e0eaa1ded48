"""Lots over HTTP: what they are. What is done with them is in `handling`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, Select, String, cast, select

from sparewell.catalogue.operations import change_part, find_part, shown_part
from sparewell.catalogue.schemas import ChangedPartSchema, PartSchema
from sparewell.catalogue.tables import Part
from sparewell.database.numbers import DONOR_PREFIX, id_of
from sparewell.database.transaction import locked
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.extend.declarations import Range
from sparewell.lots import operations as lots
from sparewell.lots import search
from sparewell.lots.ageing import in_date
from sparewell.lots.operations import follow_part
from sparewell.lots.schemas import (
    LotArguments,
    LotFilter,
    LotPageSchema,
    LotSchema,
    LotTotalSchema,
)
from sparewell.lots.showing import shown_lot, shown_lots
from sparewell.lots.tables import Lot
from sparewell.lots.totals import total_of
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.places.tables import Place
from sparewell.settings.operations import present_values

blueprint = Blueprint("lots", __name__, url_prefix="/v1", tag="stock")
_THIS_LOT = {"lot_id": "$response.body#/id"}


@blueprint.route("/lots")
@blueprint.arguments(LotArguments, location="query")
@blueprint.response(200, LotPageSchema)
def list_lots(arguments: dict[str, Any]) -> Any:
    """List lots by what they measure and by what is left of them."""
    page = page_of(work().session, _lots_wanted(arguments), Lot.id, arguments)
    return answer("lots", page, lambda lots: shown_lots(work(), lots))


@blueprint.route("/lots/total")
@blueprint.arguments(LotFilter, location="query")
@blueprint.response(200, LotTotalSchema)
def total_lots(arguments: dict[str, Any]) -> Any:
    """Count what is free; offcuts, and what nobody has looked at in a donor, count for nothing."""
    return total_of(work(), _lots_wanted(arguments))


def _lots_wanted(arguments: Mapping[str, Any]) -> Select[Lot]:
    statement = select(Lot).where(*_lot_conditions(arguments))
    if "part" in arguments:
        statement = statement.join(Part, Part.id == Lot.part_id)
        statement = statement.where(Part.number == arguments["part"])
    if "place" in arguments:
        statement = statement.join(Place, Place.id == Lot.place_id)
        statement = statement.where(Place.code == arguments["place"])
    if "fit_on" in arguments:
        settings = present_values(work().session, work().declared)
        statement = statement.where(in_date(arguments["fit_on"], work().declared, settings))
    return statement


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
    return shown_lot(work(), lots.find_lot(work().session, lot_id))


@blueprint.route("/parts/<identifier:number>", methods=["PATCH"], tags=["catalogue"])
@blueprint.arguments(ChangedPartSchema)
@blueprint.etag
@blueprint.response(200, PartSchema)
def patch_part(body: dict[str, Any], number: str) -> Any:
    """Change a part; lots that rest on its nominal dimensions follow."""
    part = locked(work().session, find_part(work().session, number))
    blueprint.check_etag(shown_part(work(), part), PartSchema)
    change_part(work(), part, body)
    follow_part(work(), part)
    return shown_part(work(), part)
