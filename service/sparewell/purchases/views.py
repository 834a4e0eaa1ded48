"""Purchases of several pens over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.purchases import operations as purchases
from sparewell.purchases.schemas import (
    ChangedPenPurchaseSchema,
    NewPenPurchaseSchema,
    PenPurchasePageSchema,
    PenPurchaseSchema,
)
from sparewell.purchases.showing import shown_purchase, shown_purchases
from sparewell.purchases.tables import PenPurchase

blueprint = Blueprint("purchases", __name__, url_prefix="/v1", tag="trade")
_THIS_PURCHASE = {"purchase_id": "$response.body#/id"}
_FROM_A_PURCHASE = {
    "read": Link("get", "/v1/purchases/{purchase_id}", _THIS_PURCHASE),
    "change": Link("patch", "/v1/purchases/{purchase_id}", _THIS_PURCHASE),
}


@blueprint.route("/purchases", methods=["POST"])
@blueprint.arguments(NewPenPurchaseSchema)
@blueprint.etag
@blueprint.response(201, PenPurchaseSchema, links=_FROM_A_PURCHASE)
def add_purchase(body: dict[str, Any]) -> Any:
    """Enter pens and donors that were bought together, and divide what was paid over them."""
    purchase = purchases.create_purchase(work(), body)
    return shown_purchase(work(), purchase), location("purchases", purchase.id)


@blueprint.route("/purchases")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, PenPurchasePageSchema)
def list_purchases(arguments: dict[str, Any]) -> Any:
    """List the purchases, oldest first."""
    page = page_of(work().session, select(PenPurchase), PenPurchase.id, arguments)
    return answer("purchases", page, lambda rows: shown_purchases(work(), rows))


@blueprint.route("/purchases/<row:purchase_id>")
@blueprint.etag
@blueprint.response(200, PenPurchaseSchema)
def get_purchase(purchase_id: int) -> Any:
    """Return one purchase, with what each of its pens and donors cost."""
    return shown_purchase(work(), purchases.find_purchase(work().session, purchase_id))


@blueprint.route("/purchases/<row:purchase_id>", methods=["PATCH"])
@blueprint.arguments(ChangedPenPurchaseSchema)
@blueprint.etag
@blueprint.response(200, PenPurchaseSchema)
def patch_purchase(body: dict[str, Any], purchase_id: int) -> Any:
    """Change a purchase; where price, postage or lines change it is divided anew."""
    purchase = locked(work().session, purchases.find_purchase(work().session, purchase_id))
    blueprint.check_etag(shown_purchase(work(), purchase), PenPurchaseSchema)
    return shown_purchase(work(), purchases.change_purchase(work(), purchase, body))
