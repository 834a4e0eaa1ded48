"""What is done with lots, over HTTP."""

from __future__ import annotations

from typing import Any

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.handling import conversions, counting
from sparewell.handling import operations as handling
from sparewell.handling.conversions import Conversion
from sparewell.handling.schemas import (
    ConversionSchema,
    CountSchema,
    CountSheetSchema,
    CountsSchema,
    CutSchema,
    DiscardSchema,
    MoveSchema,
    OpenKitSchema,
    PunchSchema,
    PutBackSchema,
    StocktakeSchema,
)
from sparewell.handling.sheets import Washer
from sparewell.lots import operations as lots
from sparewell.lots.schemas import ChangedLotSchema, LotSchema, NewLotSchema
from sparewell.lots.showing import shown_lot, shown_lots
from sparewell.lots.tables import Lot
from sparewell.places import operations as places

blueprint = Blueprint("handling", __name__, url_prefix="/v1")
_THIS_LOT = {"lot_id": "$response.body#/id"}
_FROM_A_LOT = {
    "read": Link("get", "/v1/lots/{lot_id}", _THIS_LOT),
    "change": Link("patch", "/v1/lots/{lot_id}", _THIS_LOT),
    **{
        verb: Link("post", f"/v1/lots/{{lot_id}}/{verb}", _THIS_LOT)
        for verb in ("count", "discard", "move", "cut", "put-back", "open-kit", "punch")
    },
}


@blueprint.route("/lots", methods=["POST"], tags=["stock"])
@blueprint.arguments(NewLotSchema)
@blueprint.etag
@blueprint.response(201, LotSchema, links=_FROM_A_LOT)
def add_lot(body: dict[str, Any]) -> Any:
    """Take pieces in."""
    lot = handling.arrive(work(), lots.NewLot.said(body))
    return shown_lot(work(), lot), location("lots", lot.id)


@blueprint.route("/lots/<row:lot_id>", methods=["PATCH"], tags=["stock"])
@blueprint.arguments(ChangedLotSchema)
@blueprint.etag
@blueprint.response(200, LotSchema)
def patch_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Change what a lot says of itself."""
    lot = locked(work().session, lots.find_lot(work().session, lot_id))
    blueprint.check_etag(shown_lot(work(), lot), LotSchema)
    return shown_lot(work(), handling.change_lot(work(), lot, body))


@blueprint.route("/lots/<row:lot_id>/count", methods=["POST"], tags=["stock"])
@blueprint.arguments(CountSchema)
@blueprint.response(200, LotSchema)
def count_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Set what is in hand to what was counted, pieces in trays included."""
    lot = lots.find_lot(work().session, lot_id)
    return shown_lot(work(), handling.count(work(), lot, **body))


@blueprint.route("/lots/<row:lot_id>/discard", methods=["POST"], tags=["stock"])
@blueprint.arguments(DiscardSchema)
@blueprint.response(200, LotSchema)
def discard_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Throw pieces away."""
    lot = lots.find_lot(work().session, lot_id)
    return shown_lot(work(), handling.discard(work(), lot, **body))


@blueprint.route("/lots/<row:lot_id>/move", methods=["POST"], tags=["stock"])
@blueprint.arguments(MoveSchema)
@blueprint.response(200, LotSchema)
def move_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Move pieces to another drawer; some of a lot become a lot of their own there."""
    lot = lots.find_lot(work().session, lot_id)
    return shown_lot(
        work(), handling.move(work(), lot, quantity=body.pop("quantity", None), **body)
    )


def _converted(conversion: Conversion) -> tuple[dict[str, Any], dict[str, str]]:
    taken_from, *made = shown_lots(work(), [conversion.taken_from, *conversion.made])
    body = {
        "group": conversion.act_id,
        "taken_from": taken_from,
        "made": made,
        "says": conversion.says,
    }
    return body, location("lots", conversion.made[0].id)


@blueprint.route("/lots/<row:lot_id>/cut", methods=["POST"])
@blueprint.arguments(CutSchema)
@blueprint.response(201, ConversionSchema)
def cut_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Cut pieces to a length; what is left over is a lot of its own."""
    lot = lots.find_lot(work().session, lot_id)
    return _converted(conversions.cut(work(), lot, **body))


@blueprint.route("/lots/<row:lot_id>/put-back", methods=["POST"])
@blueprint.arguments(PutBackSchema)
@blueprint.response(201, ConversionSchema)
def put_back(body: dict[str, Any], lot_id: int) -> Any:
    """Take used pieces of the lot back into stock, as a lot of their own."""
    lot = lots.find_lot(work().session, lot_id)
    reservation_id = body.pop("reservation")
    return _converted(conversions.put_back(work(), lot, reservation_id, **body))


@blueprint.route("/lots/<row:lot_id>/open-kit", methods=["POST"])
@blueprint.arguments(OpenKitSchema)
@blueprint.response(201, ConversionSchema)
def open_kit(body: dict[str, Any], lot_id: int) -> Any:
    """Turn one piece of the lot into lots of what it holds."""
    lot = lots.find_lot(work().session, lot_id)
    return _converted(conversions.open_kit(work(), lot, **body))


@blueprint.route("/lots/<row:lot_id>/punch", methods=["POST"])
@blueprint.arguments(PunchSchema)
@blueprint.response(201, ConversionSchema)
def punch(body: dict[str, Any], lot_id: int) -> Any:
    """Punch washers out of one sheet of the lot."""
    lot = lots.find_lot(work().session, lot_id)
    washer = Washer(
        **{
            name: body.pop(name)
            for name in ("part", "quantity", "outside_diameter", "inside_diameter")
        }
    )
    return _converted(conversions.punch(work(), lot, washer, **body))


@blueprint.route("/drawers/<identifier:code>/count-sheet")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, CountSheetSchema)
def get_count_sheet(arguments: dict[str, Any], code: str) -> Any:
    """List what should be found in a drawer, in the order of lots."""
    drawer = places.find_drawer(work().session, code)
    page = page_of(work().session, counting.lots_in(drawer), Lot.id, arguments)
    return answer("lines", page, lambda rows: counting.count_lines(work().session, rows))


@blueprint.route("/drawers/<identifier:code>/counts", methods=["POST"])
@blueprint.arguments(CountsSchema)
@blueprint.response(200, StocktakeSchema)
def add_counts(body: dict[str, Any], code: str) -> Any:
    """Set lots of a drawer to what was counted in it, pieces in trays included."""
    drawer = places.find_drawer(work().session, code)
    stocktake = counting.count_drawer(work(), drawer, **body)
    return {
        "group": stocktake.act_id,
        "counted": stocktake.counted,
        "not_counted": counting.count_lines(work().session, stocktake.not_counted),
    }
