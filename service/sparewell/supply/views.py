"""Suppliers, offers, orders and parcels over HTTP."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select

from sparewell.catalogue.tables import Part
from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.fields import Empty
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.errors import Impossible, NotFound
from sparewell.stock.lots import NewLot
from sparewell.stock.tables import Act
from sparewell.supply import orders, parcels, suppliers
from sparewell.supply.orders import LineState
from sparewell.supply.schemas import (
    CancelOrderSchema,
    ChangedOfferSchema,
    ChangedOrderSchema,
    ChangedSupplierSchema,
    NewOfferSchema,
    NewOrderSchema,
    NewParcelSchema,
    NewSupplierSchema,
    OfferArguments,
    OfferPageSchema,
    OfferSchema,
    OrderArguments,
    OrderPageSchema,
    OrderSchema,
    ParcelPageSchema,
    ParcelSchema,
    SupplierPageSchema,
    SupplierSchema,
)
from sparewell.supply.tables import Offer, Order, Parcel, Supplier

blueprint = Blueprint(
    "supply", __name__, url_prefix="/v1", description="Suppliers, prices, orders, parcels"
)
_THIS_SUPPLIER = {"supplier_id": "$response.body#/id"}
_FROM_A_SUPPLIER = {
    "read": Link("get", "/v1/suppliers/{supplier_id}", _THIS_SUPPLIER),
    "change": Link("patch", "/v1/suppliers/{supplier_id}", _THIS_SUPPLIER),
    "offers": Link("get", "/v1/suppliers/{supplier_id}/offers", _THIS_SUPPLIER),
}
_THIS_OFFER = {"offer_id": "$response.body#/id"}
_FROM_AN_OFFER = {
    "read": Link("get", "/v1/offers/{offer_id}", _THIS_OFFER),
    "change": Link("patch", "/v1/offers/{offer_id}", _THIS_OFFER),
}
_THIS_ORDER = {"number": "$response.body#/number"}
_FROM_AN_ORDER = {
    "read": Link("get", "/v1/orders/{number}", _THIS_ORDER),
    "change": Link("patch", "/v1/orders/{number}", _THIS_ORDER),
    "send": Link("post", "/v1/orders/{number}/send", _THIS_ORDER),
    "cancel": Link("post", "/v1/orders/{number}/cancel", _THIS_ORDER),
}
_MONEY_OF_A_SUPPLIER = ("postage", "free_postage_from", "minimum_order")


def _in_minor(body: Mapping[str, Any]) -> dict[str, Any]:
    """Return a supplier's body with the amounts under the names of their columns."""
    if body.get("postage", 0) is None:
        raise Impossible.at("/postage", "postage is an amount; give 0 where there is none")
    return {
        f"{name}_minor" if name in _MONEY_OF_A_SUPPLIER else name: value
        for name, value in body.items()
    }


def show_supplier(supplier: Supplier) -> dict[str, Any]:
    """Return a supplier as its schema shows it."""
    shown = {name: getattr(supplier, name, None) for name in SupplierSchema().fields}
    amounts = {name: getattr(supplier, f"{name}_minor") for name in _MONEY_OF_A_SUPPLIER}
    return shown | amounts


def show_offer(offer: Offer) -> dict[str, Any]:
    """Return an offer as its schema shows it."""
    shown = {name: getattr(offer, name, None) for name in OfferSchema().fields}
    return shown | {
        "supplier": offer.supplier_id,
        "supplier_name": offer.supplier.name,
        "part": offer.part.number if offer.part else None,
        "prices": [{"packs": each["packs"], "price": each["price_minor"]} for each in offer.breaks],
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


@blueprint.route("/suppliers", methods=["POST"])
@blueprint.arguments(NewSupplierSchema)
@blueprint.etag
@blueprint.response(201, SupplierSchema, links=_FROM_A_SUPPLIER)
def add_supplier(body: dict[str, Any]) -> Any:
    """Note a supplier."""
    supplier = suppliers.create_supplier(work(), _in_minor(body))
    return show_supplier(supplier), location("suppliers", supplier.id)


@blueprint.route("/suppliers")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, SupplierPageSchema)
def list_suppliers(arguments: dict[str, Any]) -> Any:
    """List the suppliers."""
    page = page_of(work().session, select(Supplier), Supplier.id, arguments)
    return answer("suppliers", page, show_supplier)


@blueprint.route("/suppliers/<row:supplier_id>")
@blueprint.etag
@blueprint.response(200, SupplierSchema)
def get_supplier(supplier_id: int) -> Any:
    """Return one supplier."""
    return show_supplier(suppliers.find_supplier(work().session, supplier_id))


@blueprint.route("/suppliers/<row:supplier_id>", methods=["PATCH"])
@blueprint.arguments(ChangedSupplierSchema)
@blueprint.etag
@blueprint.response(200, SupplierSchema)
def patch_supplier(body: dict[str, Any], supplier_id: int) -> Any:
    """Change a supplier, retire one, or take one back."""
    supplier = locked(work().session, suppliers.find_supplier(work().session, supplier_id))
    blueprint.check_etag(show_supplier(supplier), SupplierSchema)
    return show_supplier(suppliers.change_supplier(work(), supplier, _in_minor(body)))


@blueprint.route("/suppliers/<row:supplier_id>/offers", methods=["POST"])
@blueprint.arguments(NewOfferSchema)
@blueprint.etag
@blueprint.response(201, OfferSchema, links=_FROM_AN_OFFER)
def add_offer(body: dict[str, Any], supplier_id: int) -> Any:
    """Note what a supplier sells, and at which prices."""
    supplier = suppliers.find_supplier(work().session, supplier_id)
    offer = suppliers.create_offer(work(), supplier, body)
    return show_offer(offer), location("offers", offer.id)


@blueprint.route("/suppliers/<row:supplier_id>/offers")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, OfferPageSchema)
def list_offers_of(arguments: dict[str, Any], supplier_id: int) -> Any:
    """List what a supplier sells."""
    supplier = suppliers.find_supplier(work().session, supplier_id)
    statement = select(Offer).where(Offer.supplier_id == supplier.id)
    return answer("offers", page_of(work().session, statement, Offer.id, arguments), show_offer)


@blueprint.route("/offers")
@blueprint.arguments(OfferArguments, location="query")
@blueprint.response(200, OfferPageSchema)
def list_offers(arguments: dict[str, Any]) -> Any:
    """List who sells what."""
    statement = select(Offer)
    if "part" in arguments:
        statement = statement.join(Part, Part.id == Offer.part_id)
        statement = statement.where(Part.number == arguments["part"])
    if "kind" in arguments:
        of_kind = select(Part.id).where(Part.kind == arguments["kind"])
        statement = statement.where((Offer.kind == arguments["kind"]) | Offer.part_id.in_(of_kind))
    return answer("offers", page_of(work().session, statement, Offer.id, arguments), show_offer)


@blueprint.route("/offers/<row:offer_id>")
@blueprint.etag
@blueprint.response(200, OfferSchema)
def get_offer(offer_id: int) -> Any:
    """Return one offer."""
    return show_offer(suppliers.find_offer(work().session, offer_id))


@blueprint.route("/offers/<row:offer_id>", methods=["PATCH"])
@blueprint.arguments(ChangedOfferSchema)
@blueprint.etag
@blueprint.response(200, OfferSchema)
def patch_offer(body: dict[str, Any], offer_id: int) -> Any:
    """Change an offer, retire one, or take one back."""
    offer = locked(work().session, suppliers.find_offer(work().session, offer_id))
    blueprint.check_etag(show_offer(offer), OfferSchema)
    return show_offer(suppliers.change_offer(work(), offer, body))


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
    return answer("orders", page, lambda order: show_order(order, came))


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


def _bag(line: dict[str, Any]) -> parcels.Bag:
    of_the_bag = {name: line.pop(name) for name in ("line", "claimed", "counts")}
    return parcels.Bag(lot=NewLot(**{"part": "", **line}), **of_the_bag)


@blueprint.route("/orders/<identifier:number>/parcels")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, ParcelPageSchema)
def list_parcels(arguments: dict[str, Any], number: str) -> Any:
    """List what came of an order."""
    order = orders.find_order(work().session, number)
    statement = select(Parcel).where(Parcel.order_id == order.id)
    page = page_of(work().session, statement, Parcel.id, arguments)
    shown = _show_parcels(order, page.rows)
    return answer("parcels", page, lambda parcel: shown[parcel.id])


@blueprint.route("/orders/<identifier:number>/parcels/<row:parcel_id>")
@blueprint.response(200, ParcelSchema)
def get_parcel(number: str, parcel_id: int) -> Any:
    """Return one parcel."""
    order = orders.find_order(work().session, number)
    parcel = work().session.get(Parcel, parcel_id)
    if parcel is None or parcel.order_id != order.id:
        raise NotFound(f"{order.number} has no parcel {parcel_id}")
    return _show_parcels(order, [parcel])[parcel.id]
