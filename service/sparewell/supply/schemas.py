"""What suppliers, offers, orders and parcels look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.fields import (
    DimensionMap,
    Flag,
    MadeOnDate,
    Moment,
    Money,
    Schema,
    Text,
    identifier_text,
    note,
    pieces,
    row_id,
    row_id_argument,
)
from sparewell.edge.measured import MeasuredMap
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.stock.lots import CONFIDENCES
from sparewell.stock.schemas import AttributeMap
from sparewell.supply.orders import CANCELLED, DRAFT, MOST_LINES, SENT, STATES
from sparewell.supply.parcels import DIFFERENCES
from sparewell.supply.suppliers import MOST_BREAKS

MOST_DAYS = 3650


def days(**options: object) -> fields.Integer:
    """Return the field for a number of days."""
    meant = f"must be a whole number of days from 0 to {MOST_DAYS}"
    return fields.Integer(
        strict=True,
        validate=validate.Range(0, MOST_DAYS, error=meant),
        error_messages={"invalid": meant},
        **options,  # type: ignore[arg-type]
    )


class NewSupplierSchema(Schema):
    """Somebody who sells parts; only the name is required."""

    name = Text(required=True)
    postage = Money(load_default=0)
    free_postage_from = Money(load_default=None)
    minimum_order = Money(load_default=None)
    lead_days = days(load_default=21)
    lead_spread_days = days(load_default=0)
    note = note()


class ChangedSupplierSchema(Schema):
    """What may be changed of a supplier; a retired one is not ordered from."""

    name = Text()
    postage = Money()
    free_postage_from = Money()
    minimum_order = Money()
    lead_days = days()
    lead_spread_days = days()
    note = Text(longest=2000, empty_allowed=True)
    retired = Flag()


class SupplierSchema(Schema):
    """Somebody who sells parts."""

    id = fields.Integer(required=True)
    name = fields.String(required=True)
    postage = Money(required=True)
    free_postage_from = Money(required=True)
    minimum_order = Money(required=True)
    lead_days = fields.Integer(required=True)
    lead_spread_days = fields.Integer(
        required=True,
        metadata={
            "description": "how many days later it may come; what is ordered reckons with it"
        },
    )
    note = fields.String(required=True)
    created_at = Moment(required=True)
    retired_at = Moment(required=True)


class PriceSchema(Schema):
    """What each pack costs to who takes at least so many."""

    packs = pieces(required=True)
    price = Money(required=True)


class _PricesSchema(Schema):
    prices = fields.List(
        fields.Nested(PriceSchema),
        required=True,
        validate=validate.Length(min=1, max=MOST_BREAKS),
        metadata={"description": "for a pack, by the fewest packs; that of 1 pack is there"},
    )


class NewOfferSchema(_PricesSchema):
    """What a supplier sells: a part, or a kind and its size in words; and its price."""

    part = identifier_text(load_default=None, allow_none=True)
    kind = Text(longest=40, load_default=None, allow_none=True)
    size = Text(load_default=None, allow_none=True)
    item_number = Text(longest=100, empty_allowed=True, load_default="")
    pack_pieces = pieces(load_default=1)
    minimum_pieces = pieces(load_default=1)
    note = note()


class ChangedOfferSchema(Schema):
    """What may be changed of an offer; what was ordered by it stays as it was."""

    part = identifier_text()
    kind = Text(longest=40)
    size = Text()
    item_number = Text(longest=100, empty_allowed=True)
    pack_pieces = pieces()
    minimum_pieces = pieces()
    prices = fields.List(
        fields.Nested(PriceSchema), validate=validate.Length(min=1, max=MOST_BREAKS)
    )
    note = Text(longest=2000, empty_allowed=True)
    retired = Flag()


class OfferSchema(Schema):
    """What a supplier sells."""

    id = fields.Integer(required=True)
    supplier = fields.Integer(required=True)
    supplier_name = fields.String(required=True)
    part = fields.String(required=True, allow_none=True)
    kind = fields.String(required=True, allow_none=True)
    size = fields.String(required=True, allow_none=True)
    item_number = fields.String(required=True)
    pack_pieces = fields.Integer(required=True)
    minimum_pieces = fields.Integer(required=True)
    prices = fields.List(fields.Nested(PriceSchema), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    retired_at = Moment(required=True)


class OfferArguments(PageArguments):
    """How the list of offers may be narrowed."""

    part = identifier_text()
    kind = Text(longest=40)


class NewLineSchema(Schema):
    """So many packs: of an offer, or of a part at a price for each pack."""

    offer = row_id()
    part = identifier_text()
    packs = pieces(required=True)
    pack_pieces = pieces(load_default=1)
    price = Money()
    item_number = Text(longest=100, empty_allowed=True, load_default="")


class NewOrderSchema(Schema):
    """A draft of an order from one supplier; without a postage it is what the supplier takes."""

    supplier = row_id(required=True)
    lines = fields.List(
        fields.Nested(NewLineSchema),
        required=True,
        validate=validate.Length(min=1, max=MOST_LINES),
    )
    postage = Money()
    note = note()


class ChangedOrderSchema(Schema):
    """What may be changed of an order."""

    postage = Money()
    note = Text(longest=2000, empty_allowed=True)


class DifferenceSchema(Schema):
    """How what came differs from what was ordered."""

    what = fields.String(required=True, validate=validate.OneOf(DIFFERENCES))
    detail = fields.String(required=True)


class OrderLineSchema(Schema):
    """One line of an order: what was ordered, what has come, what is still to come, in pieces."""

    id = fields.Integer(required=True)
    part = fields.String(required=True)
    offer = fields.Integer(required=True, allow_none=True)
    item_number = fields.String(required=True)
    packs = fields.Integer(required=True)
    pack_pieces = fields.Integer(required=True)
    price = Money(required=True)
    pieces = fields.Integer(required=True)
    received = fields.Integer(required=True)
    given_up = fields.Integer(required=True)
    given_up_why = fields.String(required=True, allow_none=True)
    rest = fields.Integer(required=True)


class OrderSchema(Schema):
    """What is asked of one supplier."""

    number = fields.String(required=True)
    supplier = fields.Integer(required=True)
    supplier_name = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(STATES))
    lines = fields.List(fields.Nested(OrderLineSchema), required=True)
    parcels = fields.List(fields.Integer(), required=True)
    goods = Money(required=True)
    postage = Money(required=True)
    total = Money(required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    sent_at = Moment(required=True)
    cancelled_at = Moment(required=True)
    cancelled_why = fields.String(required=True, allow_none=True)
    warnings = fields.List(fields.String(), required=True)


class OrderArguments(PageArguments):
    """How the list of orders may be narrowed; `sent` are all that were, whatever has come."""

    supplier = row_id_argument()
    state = fields.String(validate=validate.OneOf((DRAFT, SENT, CANCELLED)))


class GivenUpSchema(Schema):
    """How many pieces of a line will not come."""

    line = row_id(required=True)
    pieces = pieces(required=True)


class CancelOrderSchema(Schema):
    """Why nothing more will come; without lines, of the whole order."""

    why = Text(longest=2000, required=True)
    lines = fields.List(
        fields.Nested(GivenUpSchema), validate=validate.Length(min=1, max=MOST_LINES)
    )


class BagSchema(Schema):
    """One bag of a parcel. Without a part it is what was ordered; without a cost, at its price."""

    line = row_id(required=True)
    drawer = identifier_text(40, required=True)
    quantity = pieces(required=True)
    part = identifier_text()
    measured = MeasuredMap(load_default=dict)
    claimed = DimensionMap(
        load_default=dict, metadata={"description": "what the packet says it measures"}
    )
    attributes = AttributeMap(load_default=dict)
    material = Text(longest=60)
    material_confidence = fields.String(validate=validate.OneOf(CONFIDENCES))
    label = Text()
    made_on = MadeOnDate()
    cost = Money()
    note = note()
    counts = Flag(
        load_default=True,
        metadata={"description": "false: it is kept, and the order goes on waiting for its own"},
    )


class NewParcelSchema(Schema):
    """What came at one time: each bag becomes a lot."""

    lines = fields.List(
        fields.Nested(BagSchema), required=True, validate=validate.Length(min=1, max=MOST_LINES)
    )
    note = note()


class ParcelLineSchema(Schema):
    """One bag, and the lot it became."""

    line = fields.Integer(required=True)
    lot = fields.Integer(required=True)
    pieces = fields.Integer(required=True)
    counted = fields.Integer(
        required=True, metadata={"description": "how many of them count for the line"}
    )
    differences = fields.List(fields.Nested(DifferenceSchema), required=True)


class ParcelSchema(Schema):
    """What came at one time, and how the order stands with it."""

    id = fields.Integer(required=True)
    order = fields.String(required=True)
    group = fields.Integer(
        required=True, metadata={"description": "its group in the ledger, by which it is undone"}
    )
    undone = fields.Boolean(required=True)
    received_at = Moment(required=True)
    note = fields.String(required=True)
    lines = fields.List(fields.Nested(ParcelLineSchema), required=True)
    order_lines = fields.List(fields.Nested(OrderLineSchema), required=True)
    differences = fields.List(fields.Nested(DifferenceSchema), required=True)


SupplierPageSchema = page_schema("suppliers", SupplierSchema)
OfferPageSchema = page_schema("offers", OfferSchema)
OrderPageSchema = page_schema("orders", OrderSchema)
ParcelPageSchema = page_schema("parcels", ParcelSchema)
