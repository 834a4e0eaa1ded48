"""Drawers, lots, the ledger and reservations over HTTP."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, time
from typing import Any

from sqlalchemy import ColumnElement, String, cast, select

from sparewell.catalogue.tables import Part
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, id_of, number_of
from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.extend.declarations import Range
from sparewell.extend.fields import Value
from sparewell.extend.settings import present_values
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.money import money_text
from sparewell.stock import lots, places, reservations, search
from sparewell.stock.ageing import fit_by, in_date
from sparewell.stock.claims import basis
from sparewell.stock.doubts import doubts_of
from sparewell.stock.schemas import (
    ChangedDrawerSchema,
    ChangedLotSchema,
    CountSchema,
    DiscardSchema,
    DrawerPageSchema,
    DrawerSchema,
    LotArguments,
    LotPageSchema,
    LotSchema,
    MovementArguments,
    MovementPageSchema,
    MoveSchema,
    NewDrawerSchema,
    NewLotSchema,
    ReservationArguments,
    ReservationPageSchema,
    ReservationSchema,
    VerbSchema,
)
from sparewell.stock.tables import Act, Lot, Movement, Place, Reservation

blueprint = Blueprint(
    "stock", __name__, url_prefix="/v1", description="Drawers, lots, the ledger, reservations"
)
_THIS_DRAWER = {"code": "$response.body#/code"}
_FROM_A_DRAWER = {
    "read": Link("get", "/v1/drawers/{code}", _THIS_DRAWER),
    "change": Link("patch", "/v1/drawers/{code}", _THIS_DRAWER),
}
_THIS_LOT = {"lot_id": "$response.body#/id"}
_FROM_A_LOT = {
    "read": Link("get", "/v1/lots/{lot_id}", _THIS_LOT),
    "change": Link("patch", "/v1/lots/{lot_id}", _THIS_LOT),
    **{
        verb: Link("post", f"/v1/lots/{{lot_id}}/{verb}", _THIS_LOT)
        for verb in ("count", "discard", "move", "cut", "put-back", "open-kit", "punch")
    },
}


def show_lot(lot: Lot, settings: Mapping[str, Value | None] | None = None) -> dict[str, Any]:
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
        "over_age": lot.available if age.is_past(work().now.date()) else 0,
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


def show_reservation(reservation: Reservation) -> dict[str, Any]:
    """Return a reservation as its schema shows it."""
    shown = {name: getattr(reservation, name, None) for name in ReservationSchema().fields}
    return shown | {
        "lot": reservation.lot_id,
        "job": number_of(JOB_PREFIX, reservation.job_id),
        "need": reservation.need_id,
        "goes_with": reservation.goes_with_id,
    }


def show_movement(movement: Movement) -> dict[str, Any]:
    """Return a line of the ledger as its schema shows it."""
    from_place, job_id = movement.from_place, movement.job_id
    return {
        "id": movement.id,
        "group": movement.act_id,
        "undoes": movement.act.undoes_act_id,
        "at": movement.act.at,
        "lot": movement.lot_id,
        "verb": movement.verb,
        "change": movement.change,
        "pieces": movement.pieces,
        "cost_change": money_text(movement.cost_change_minor),
        "place": movement.place.code,
        "from_place": from_place.code if from_place else None,
        "reservation": movement.reservation_id,
        "job": number_of(JOB_PREFIX, job_id) if job_id else None,
        "actor": movement.act.actor,
        "person": movement.act.person,
        "note": movement.act.note,
    }


@blueprint.route("/drawers", methods=["POST"])
@blueprint.arguments(NewDrawerSchema)
@blueprint.etag
@blueprint.response(201, DrawerSchema, links=_FROM_A_DRAWER)
def add_drawer(body: dict[str, Any]) -> Any:
    """Make a drawer."""
    drawer = places.create_drawer(work(), **body)
    return drawer, location("drawers", drawer.code)


@blueprint.route("/drawers")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, DrawerPageSchema)
def list_drawers(arguments: dict[str, Any]) -> Any:
    """List the drawers."""
    statement = select(Place).where(Place.type == places.DRAWER)
    return answer("drawers", page_of(work().session, statement, Place.id, arguments))


@blueprint.route("/drawers/<identifier:code>")
@blueprint.etag
@blueprint.response(200, DrawerSchema)
def get_drawer(code: str) -> Any:
    """Return one drawer."""
    return places.find_drawer(work().session, code)


@blueprint.route("/drawers/<identifier:code>", methods=["PATCH"])
@blueprint.arguments(ChangedDrawerSchema)
@blueprint.etag
@blueprint.response(200, DrawerSchema)
def patch_drawer(body: dict[str, Any], code: str) -> Any:
    """Change a drawer's note."""
    drawer = locked(work().session, places.find_drawer(work().session, code))
    blueprint.check_etag(drawer, DrawerSchema)
    drawer.note = body.get("note", drawer.note)
    work().session.flush()
    return drawer


@blueprint.route("/lots", methods=["POST"])
@blueprint.arguments(NewLotSchema)
@blueprint.etag
@blueprint.response(201, LotSchema, links=_FROM_A_LOT)
def add_lot(body: dict[str, Any]) -> Any:
    """Take pieces in."""
    lot = lots.arrive(work(), lots.NewLot(**body))
    return show_lot(lot), location("lots", lot.id)


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


@blueprint.route("/lots/<row:lot_id>", methods=["PATCH"])
@blueprint.arguments(ChangedLotSchema)
@blueprint.etag
@blueprint.response(200, LotSchema)
def patch_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Change what a lot says of itself."""
    lot = locked(work().session, lots.find_lot(work().session, lot_id))
    blueprint.check_etag(show_lot(lot), LotSchema)
    return show_lot(lots.change_lot(work(), lot, body))


@blueprint.route("/lots/<row:lot_id>/count", methods=["POST"])
@blueprint.arguments(CountSchema)
@blueprint.response(200, LotSchema)
def count_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Set what is in hand to what was counted, pieces in trays included."""
    lot = lots.find_lot(work().session, lot_id)
    return show_lot(lots.count(work(), lot, **body))


@blueprint.route("/lots/<row:lot_id>/discard", methods=["POST"])
@blueprint.arguments(DiscardSchema)
@blueprint.response(200, LotSchema)
def discard_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Throw pieces away."""
    lot = lots.find_lot(work().session, lot_id)
    return show_lot(lots.discard(work(), lot, **body))


@blueprint.route("/lots/<row:lot_id>/move", methods=["POST"])
@blueprint.arguments(MoveSchema)
@blueprint.response(200, LotSchema)
def move_lot(body: dict[str, Any], lot_id: int) -> Any:
    """Move pieces to another drawer; some of a lot become a lot of their own there."""
    lot = lots.find_lot(work().session, lot_id)
    return show_lot(lots.move(work(), lot, quantity=body.pop("quantity", None), **body))


@blueprint.route("/movements")
@blueprint.arguments(MovementArguments, location="query")
@blueprint.response(200, MovementPageSchema)
def list_movements(arguments: dict[str, Any]) -> Any:
    """List the ledger, oldest line first."""
    statement = select(Movement)
    for name, column in (
        ("lot", Movement.lot_id),
        ("reservation", Movement.reservation_id),
        ("group", Movement.act_id),
        ("verb", Movement.verb),
    ):
        if name in arguments:
            statement = statement.where(column == arguments[name])
    if "job" in arguments:
        statement = statement.where(Movement.job_id == id_of(JOB_PREFIX, arguments["job"]))
    if "since" in arguments:
        begins = datetime.combine(arguments["since"], time(), UTC)
        statement = statement.join(Act, Act.id == Movement.act_id).where(Act.at >= begins)
    page = page_of(work().session, statement, Movement.id, arguments)
    return answer("movements", page, show_movement)


@blueprint.route("/reservations")
@blueprint.arguments(ReservationArguments, location="query")
@blueprint.response(200, ReservationPageSchema)
def list_reservations(arguments: dict[str, Any]) -> Any:
    """List the reservations."""
    statement = select(Reservation)
    if "lot" in arguments:
        statement = statement.where(Reservation.lot_id == arguments["lot"])
    if "job" in arguments:
        job_id = id_of(JOB_PREFIX, arguments["job"])
        statement = statement.where(Reservation.job_id == job_id)
    if "state" in arguments:
        statement = statement.where(_in_state(arguments["state"]))
    page = page_of(work().session, statement, Reservation.id, arguments)
    return answer("reservations", page, show_reservation)


def _in_state(state: str) -> ColumnElement[bool]:
    still_promised = Reservation.promised > 0
    match state:
        case "held":
            return still_promised & (Reservation.in_tray < Reservation.promised)
        case "in_tray":
            return still_promised & (Reservation.in_tray == Reservation.promised)
        case _:
            return Reservation.ended_as == state


@blueprint.route("/reservations/<row:reservation_id>")
@blueprint.response(200, ReservationSchema)
def get_reservation(reservation_id: int) -> Any:
    """Return one reservation."""
    return show_reservation(reservations.find_reservation(work().session, reservation_id))


def _add_verb(verb: str, act: Callable[..., Reservation], summary: str) -> None:
    @blueprint.arguments(VerbSchema)
    @blueprint.response(200, ReservationSchema)
    def view(body: dict[str, Any], reservation_id: int) -> Any:
        reservation = reservations.find_reservation(work().session, reservation_id)
        return show_reservation(act(work(), reservation, body.get("quantity"), body["note"]))

    view.__doc__ = summary
    blueprint.add_url_rule(
        f"/reservations/<row:reservation_id>/{verb}", f"{verb}_reservation", view, methods=["POST"]
    )


_add_verb("fetch", reservations.fetch, "Put held pieces into the job's tray; they cannot lapse.")
_add_verb("use", reservations.use, "Fit pieces: they leave the stock for good.")
_add_verb("release", reservations.release, "Give up promised pieces.")
