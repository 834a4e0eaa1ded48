"""Orders and parcels over HTTP."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select

from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.fields import Empty
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.errors import NotFound
from sparewell.ledger.tables import Act
from sparewell.lots.operations import NewLot
from sparewell.orders import operations as orders
from sparewell.orders import parcels
from sparewell.orders.operations import LineState
from sparewell.orders.schemas import (
    CancelOrderSchema,
    ChangedOrderSchema,
    NewOrderSchema,
    NewParcelSchema,
    OrderArguments,
    OrderPageSchema,
    OrderSchema,
    ParcelPageSchema,
    ParcelSchema,
)
from sparewell.orders.tables import Order, Parcel

blueprint = Blueprint("orders", __name__, url_prefix="/v1", tag="supply")
_THIS_ORDER = {"number": "$response.body#/number"}
_FROM_AN_ORDER = {
    "read": Link("get", "/v1/orders/{number}", _THIS_ORDER),
    "change": Link("patch", "/v1/orders/{number}", _THIS_ORDER),
    "send": Link("post", "/v1/orders/{number}/send", _THIS_ORDER),
    "cancel": Link("post", "/v1/orders/{number}/cancel", _THIS_ORDER),
}


def _show_line(state: LineState) -> dict[str, Any]:
    line = state.line
    return {
        "id": line.id,
        "part": line.part.number,
        "offer": line.offer_id,
        "item_number": line.item_number,
        "packs": line.packs,
        "pack_pieces": line.pack_pieces,
        "price": line.price_minor,
        "pieces": line.pieces,
        "received": state.received,
        "given_up": line.given_up_pieces,
        "given_up_why": line.given_up_why,
        "rest": state.rest,
    }


def show_order(order: Order, came: Mapping[int, int] | None = None) -> dict[str, Any]:
    """Return an order as its schema shows it; `came` are the pieces received by line."""
    if came is None:
        came = orders.received(work().session, [line.id for line in order.lines])
    states = [LineState(line, came.get(line.id, 0)) for line in order.lines]
    goods = orders.goods_of(order)
    return {
        "number": order.number,
        "supplier": order.supplier_id,
        "supplier_name": order.supplier.name,
        "state": orders.state_of(order, states),
        "lines": [_show_line(state) for state in states],
        "parcels": [parcel.id for parcel in order.parcels],
        "goods": goods,
        "postage": order.postage_minor,
        "total": goods + order.postage_minor,
        "note": order.note,
        "created_at": order.created_at,
        "sent_at": order.sent_at,
        "cancelled_at": order.cancelled_at,
        "cancelled_why": order.cancelled_why,
        "warnings": orders.warnings_of(order),
    }


def _show_parcels(order: Order, rows: Sequence[Parcel]) -> dict[int, dict[str, Any]]:
    """Return parcels of one order as their schema shows them, by id."""
    states = orders.line_states(work().session, order)
    acts = [parcel.act_id for parcel in rows]
    statement = select(Act.undoes_act_id).where(Act.undoes_act_id.in_(acts))
    undone = set(work().session.scalars(statement))
    return {
        parcel.id: _show_parcel(order, parcel, states, is_undone=parcel.act_id in undone)
        for parcel in rows
    }


def _show_parcel(
    order: Order, parcel: Parcel, states: Sequence[LineState], *, is_undone: bool
) -> dict[str, Any]:
    return {
        "id": parcel.id,
        "order": order.number,
        "group": parcel.act_id,
        "undone": is_undone,
        "received_at": parcel.received_at,
        "note": parcel.note,
        "lines": [
            {
                "line": line.line_id,
                "lot": line.lot_id,
                "pieces": line.pieces,
                "counted": line.counted_pieces,
                "differences": line.differences,
            }
            for line in parcel.lines
        ],
        "order_lines": [_show_line(state) for state in states],
        "differences": parcels.differences(parcel, states),
    }


@blueprint.route("/orders", methods=["POST"])
@blueprint.arguments(NewOrderSchema)
@blueprint.etag
@blueprint.response(201, OrderSchema, links=_FROM_AN_ORDER)
def add_order(body: dict[str, Any]) -> Any:
    """Write a draft of an order."""
    order = orders.create_order(work(), body.pop("supplier"), body.pop("lines"), **body)
    return show_order(order), location("orders", order.number)


@blueprint.route("/orders")
@blueprint.arguments(OrderArguments, location="query")
@blueprint.response(200, OrderPageSchema)
def list_orders(arguments: dict[str, Any]) -> Any:
    """List the orders."""
    statement = select(Order)
    if "supplier" in arguments:
        statement = statement.where(Order.supplier_id == arguments["supplier"])
    if "state" in arguments:
        statement = statement.where(Order.state == arguments["state"])
    page = page_of(work().session, statement, Order.id, arguments)
    lines = [line.id for order in page.rows for line in order.lines]
    came = orders.received(work().session, lines)
    return answer("orders", page, lambda rows: [show_order(order, came) for order in rows])


@blueprint.route("/orders/<identifier:number>")
@blueprint.etag
@blueprint.response(200, OrderSchema)
def get_order(number: str) -> Any:
    """Return one order."""
    return show_order(orders.find_order(work().session, number))


@blueprint.route("/orders/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedOrderSchema)
@blueprint.etag
@blueprint.response(200, OrderSchema)
def patch_order(body: dict[str, Any], number: str) -> Any:
    """Change the note or the postage of an order."""
    order = orders.locked_order(work(), orders.find_order(work().session, number))
    blueprint.check_etag(show_order(order), OrderSchema)
    return show_order(orders.change_order(work(), order, body))


@blueprint.route("/orders/<identifier:number>/send", methods=["POST"])
@blueprint.arguments(Empty)
@blueprint.response(200, OrderSchema)
def send_order(_body: dict[str, Any], number: str) -> Any:
    """Note that a draft was sent to its supplier."""
    return show_order(orders.send(work(), orders.find_order(work().session, number)))


@blueprint.route("/orders/<identifier:number>/cancel", methods=["POST"])
@blueprint.arguments(CancelOrderSchema)
@blueprint.response(200, OrderSchema)
def cancel_order(body: dict[str, Any], number: str) -> Any:
    """Give up what has not come, all of it or some lines, with the reason."""
    order = orders.find_order(work().session, number)
    return show_order(orders.cancel(work(), order, body["why"], body.get("lines")))


@blueprint.route("/orders/<identifier:number>/parcels", methods=["POST"])
@blueprint.arguments(NewParcelSchema)
@blueprint.response(201, ParcelSchema)
def add_parcel(body: dict[str, Any], number: str) -> Any:
    """Take in what came: each bag becomes a lot, and what differs from the order is said."""
    order = orders.find_order(work().session, number)
    bags = [_bag(line) for line in body["lines"]]
    parcel = parcels.receive(work(), order, bags, body["note"])
    where = location("orders", order.number)["Location"]
    return _show_parcels(order, [parcel])[parcel.id], {"Location": f"{where}/parcels/{parcel.id}"}


def _bag(line: dict[str, Any]) -> parcels.ParcelBag:
    of_the_bag = {name: line.pop(name) for name in ("line", "claimed", "counts")}
    return parcels.ParcelBag(lot=NewLot.said(line), **of_the_bag)


@blueprint.route("/orders/<identifier:number>/parcels")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, ParcelPageSchema)
def list_parcels(arguments: dict[str, Any], number: str) -> Any:
    """List what came of an order."""
    order = orders.find_order(work().session, number)
    statement = select(Parcel).where(Parcel.order_id == order.id)
    page = page_of(work().session, statement, Parcel.id, arguments)
    shown = _show_parcels(order, page.rows)
    return answer("parcels", page, lambda rows: [shown[parcel.id] for parcel in rows])


@blueprint.route("/orders/<identifier:number>/parcels/<row:parcel_id>")
@blueprint.response(200, ParcelSchema)
def get_parcel(number: str, parcel_id: int) -> Any:
    """Return one parcel."""
    order = orders.find_order(work().session, number)
    parcel = work().session.get(Parcel, parcel_id)
    if parcel is None or parcel.order_id != order.id:
        raise NotFound(f"{order.number} has no parcel {parcel_id}")
    return _show_parcels(order, [parcel])[parcel.id]
