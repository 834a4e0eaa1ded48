"""Orders and parcels over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of, page_of_rows
from sparewell.edge.schema import Empty
from sparewell.errors import NotFound
from sparewell.lots.operations import NewLot
from sparewell.orders import operations as orders
from sparewell.orders import parcels
from sparewell.orders.operations import ShownOrder
from sparewell.orders.parcels import ShownParcel
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


def _shown(order: Order) -> ShownOrder:
    return orders.shown_orders(work().session, [order])[0]


@blueprint.route("/orders", methods=["POST"])
@blueprint.arguments(NewOrderSchema)
@blueprint.etag
@blueprint.response(201, OrderSchema, links=_FROM_AN_ORDER)
def add_order(body: dict[str, Any]) -> Any:
    """Write a draft of an order."""
    order = orders.create_order(work(), body.pop("supplier"), body.pop("lines"), **body)
    return _shown(order), location("orders", order.number)


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
    return answer("orders", page, lambda rows: orders.shown_orders(work().session, rows))


@blueprint.route("/orders/<identifier:number>")
@blueprint.etag
@blueprint.response(200, OrderSchema)
def get_order(number: str) -> Any:
    """Return one order."""
    return _shown(orders.find_order(work().session, number))


@blueprint.route("/orders/<identifier:number>", methods=["PATCH"])
@blueprint.arguments(ChangedOrderSchema)
@blueprint.etag
@blueprint.response(200, OrderSchema)
def patch_order(body: dict[str, Any], number: str) -> Any:
    """Change the note or the postage of an order."""
    order = orders.locked_order(work(), orders.find_order(work().session, number))
    blueprint.check_etag(_shown(order), OrderSchema)
    return _shown(orders.change_order(work(), order, body))


@blueprint.route("/orders/<identifier:number>/send", methods=["POST"])
@blueprint.arguments(Empty)
@blueprint.response(200, OrderSchema)
def send_order(_body: dict[str, Any], number: str) -> Any:
    """Note that a draft was sent to its supplier."""
    return _shown(orders.send(work(), orders.find_order(work().session, number)))


@blueprint.route("/orders/<identifier:number>/cancel", methods=["POST"])
@blueprint.arguments(CancelOrderSchema)
@blueprint.response(200, OrderSchema)
def cancel_order(body: dict[str, Any], number: str) -> Any:
    """Give up what has not come, all of it or some lines, with the reason."""
    order = orders.find_order(work().session, number)
    return _shown(orders.cancel(work(), order, body["why"], body.get("lines")))


@blueprint.route("/orders/<identifier:number>/parcels", methods=["POST"])
@blueprint.arguments(NewParcelSchema)
@blueprint.response(201, ParcelSchema)
def add_parcel(body: dict[str, Any], number: str) -> Any:
    """Take in what came: each bag becomes a lot, and what differs from the order is said."""
    order = orders.find_order(work().session, number)
    bags = [_bag(line) for line in body["lines"]]
    parcel = parcels.receive(work(), order, bags, body["note"])
    where = location("orders", order.number)["Location"]
    return _shown_parcel(order, parcel), {"Location": f"{where}/parcels/{parcel.id}"}


def _shown_parcel(order: Order, parcel: Parcel) -> ShownParcel:
    return parcels.shown_parcels(work().session, order, [parcel])[0]


def _bag(line: dict[str, Any]) -> parcels.ParcelBag:
    of_the_bag = {name: line.pop(name) for name in ("line", "claimed", "counts")}
    return parcels.ParcelBag(lot=NewLot.said(line), **of_the_bag)


@blueprint.route("/orders/<identifier:number>/parcels")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, ParcelPageSchema)
def list_parcels(arguments: dict[str, Any], number: str) -> Any:
    """List what came of an order."""
    order = orders.find_order(work().session, number)
    page = page_of_rows(order.parcels, arguments)
    return answer("parcels", page, lambda rows: parcels.shown_parcels(work().session, order, rows))


@blueprint.route("/orders/<identifier:number>/parcels/<row:parcel_id>")
@blueprint.response(200, ParcelSchema)
def get_parcel(number: str, parcel_id: int) -> Any:
    """Return one parcel."""
    order = orders.find_order(work().session, number)
    parcel = work().session.get(Parcel, parcel_id)
    if parcel is None or parcel.order_id != order.id:
        raise NotFound(f"{order.number} has no parcel {parcel_id}")
    return _shown_parcel(order, parcel)
