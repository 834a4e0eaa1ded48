"""Suppliers and their offers over HTTP."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from sparewell.catalogue.tables import Part
from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, each, page_of
from sparewell.errors import Impossible
from sparewell.suppliers import operations as suppliers
from sparewell.suppliers.schemas import (
    ChangedOfferSchema,
    ChangedSupplierSchema,
    NewOfferSchema,
    NewSupplierSchema,
    OfferArguments,
    OfferPageSchema,
    OfferSchema,
    SupplierPageSchema,
    SupplierSchema,
)
from sparewell.suppliers.tables import Offer, Supplier

blueprint = Blueprint("suppliers", __name__, url_prefix="/v1", tag="supply")
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
    return answer("suppliers", page, each(show_supplier))


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
    return answer(
        "offers",
        page_of(work().session, statement, Offer.id, arguments),
        each(show_offer),
    )


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
    return answer(
        "offers",
        page_of(work().session, statement, Offer.id, arguments),
        each(show_offer),
    )


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
