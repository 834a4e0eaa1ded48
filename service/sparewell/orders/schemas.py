"""What orders and parcels look like in JSON."""

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
from sparewell.lots.conditions import Confidence
from sparewell.lots.schemas import AttributeMap
from sparewell.orders.operations import MOST_LINES
from sparewell.orders.tables import Difference, OrderState


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

    what = fields.String(required=True, validate=validate.OneOf(tuple(Difference)))
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
    state = fields.String(required=True, validate=validate.OneOf(tuple(OrderState)))
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
    state = fields.String(
        validate=validate.OneOf((OrderState.DRAFT, OrderState.SENT, OrderState.CANCELLED))
    )


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
    material_confidence = fields.String(validate=validate.OneOf(tuple(Confidence)))
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


OrderPageSchema = page_schema("orders", OrderSchema)
ParcelPageSchema = page_schema("parcels", ParcelSchema)
