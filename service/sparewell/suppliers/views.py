"""Suppliers and their offers over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.catalogue.tables import Part
from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
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


@blueprint.route("/suppliers", methods=["POST"])
@blueprint.arguments(NewSupplierSchema)
@blueprint.etag
@blueprint.response(201, SupplierSchema, links=_FROM_A_SUPPLIER)
def add_supplier(body: dict[str, Any]) -> Any:
    """Note a supplier."""
    supplier = suppliers.create_supplier(work(), body)
    return supplier, location("suppliers", supplier.id)


@blueprint.route("/suppliers")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, SupplierPageSchema)
def list_suppliers(arguments: dict[str, Any]) -> Any:
    """List the suppliers."""
    page = page_of(work().session, select(Supplier), Supplier.id, arguments)
    return answer("suppliers", page)


@blueprint.route("/suppliers/<row:supplier_id>")
@blueprint.etag
@blueprint.response(200, SupplierSchema)
def get_supplier(supplier_id: int) -> Any:
    """Return one supplier."""
    return suppliers.find_supplier(work().session, supplier_id)


@blueprint.route("/suppliers/<row:supplier_id>", methods=["PATCH"])
@blueprint.arguments(ChangedSupplierSchema)
@blueprint.etag
@blueprint.response(200, SupplierSchema)
def patch_supplier(body: dict[str, Any], supplier_id: int) -> Any:
    """Change a supplier, retire one, or take one back."""
    supplier = locked(work().session, suppliers.find_supplier(work().session, supplier_id))
    blueprint.check_etag(supplier, SupplierSchema)
    return suppliers.change_supplier(work(), supplier, body)


@blueprint.route("/suppliers/<row:supplier_id>/offers", methods=["POST"])
@blueprint.arguments(NewOfferSchema)
@blueprint.etag
@blueprint.response(201, OfferSchema, links=_FROM_AN_OFFER)
def add_offer(body: dict[str, Any], supplier_id: int) -> Any:
    """Note what a supplier sells, and at which prices."""
    supplier = suppliers.find_supplier(work().session, supplier_id)
    offer = suppliers.create_offer(work(), supplier, body)
    return offer, location("offers", offer.id)


@blueprint.route("/suppliers/<row:supplier_id>/offers")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, OfferPageSchema)
def list_offers_of(arguments: dict[str, Any], supplier_id: int) -> Any:
    """List what a supplier sells."""
    supplier = suppliers.find_supplier(work().session, supplier_id)
    statement = select(Offer).where(Offer.supplier_id == supplier.id)
    return answer("offers", page_of(work().session, statement, Offer.id, arguments))


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
    return answer("offers", page_of(work().session, statement, Offer.id, arguments))


@blueprint.route("/offers/<row:offer_id>")
@blueprint.etag
@blueprint.response(200, OfferSchema)
def get_offer(offer_id: int) -> Any:
    """Return one offer."""
    return suppliers.find_offer(work().session, offer_id)


@blueprint.route("/offers/<row:offer_id>", methods=["PATCH"])
@blueprint.arguments(ChangedOfferSchema)
@blueprint.etag
@blueprint.response(200, OfferSchema)
def patch_offer(body: dict[str, Any], offer_id: int) -> Any:
    """Change an offer, retire one, or take one back."""
    offer = locked(work().session, suppliers.find_offer(work().session, offer_id))
    blueprint.check_etag(offer, OfferSchema)
    return suppliers.change_offer(work(), offer, body)
