"""What orders and parcels look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description
from sparewell.edge.fields import (
    DimensionMap,
    Flag,
    Moment,
    Money,
    SeveralLines,
    Text,
    identifier_text,
    note,
    pieces,
    row_id,
    row_id_argument,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.lots.schemas import LotDescription
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


class DifferenceSchema(Schema):
    """How what came differs from what was ordered."""

    what = fields.String(required=True, validate=validate.OneOf(tuple(Difference)))
    detail = fields.String(required=True)


class OrderLineDescription(Description):
    """One line of an order: what was ordered, what has come, what is still to come, in pieces."""

    id = Described(fields.Integer())
    part = Described(fields.String(), read="part.number")
    offer = Described(fields.Integer(), nullable=True, kept=("offer_id",))
    item_number = Described(fields.String())
    packs = Described(fields.Integer())
    pack_pieces = Described(fields.Integer())
    price = Described(Money(), kept=("price_minor",))
    pieces = Described(fields.Integer())
    received = Described(fields.Integer())
    given_up = Described(fields.Integer(), kept=("given_up_pieces",))
    given_up_why = Described(fields.String(), nullable=True)
    rest = Described(fields.Integer())


OrderLineSchema = OrderLineDescription.shows("OrderLine")


class OrderDescription(Description):
    """What is asked of one supplier; without a postage it is what the supplier takes."""

    number = Described(fields.String())
    supplier = Described(row_id(), new=REQUIRED, kept=("supplier_id",))
    supplier_name = Described(fields.String(), read="supplier.name")
    state = Described(fields.String(validate=validate.OneOf(tuple(OrderState))))
    lines = Described(
        fields.List(fields.Nested(NewLineSchema), validate=validate.Length(min=1, max=MOST_LINES)),
        new=REQUIRED,
        shown=fields.List(fields.Nested(OrderLineSchema)),
    )
    parcels = Described(fields.List(fields.Integer()))
    goods = Described(Money())
    postage = Described(Money(), new=OPTIONAL, change=True, kept=("postage_minor",))
    total = Described(Money())
    note = Described(SeveralLines(empty_allowed=True), new="", change=True)
    created_at = Described(Moment())
    sent_at = Described(Moment())
    cancelled_at = Described(Moment())
    cancelled_why = Described(fields.String(), nullable=True)
    warnings = Described(fields.List(fields.String()))


NewOrderSchema, ChangedOrderSchema, OrderSchema = OrderDescription.schemas("Order")


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

    why = SeveralLines(required=True)
    lines = fields.List(
        fields.Nested(GivenUpSchema), validate=validate.Length(min=1, max=MOST_LINES)
    )


class BagSchema(LotDescription.new_schema("_Bag")):  # type: ignore[misc]
    """One bag of a parcel. Without a part it is what was ordered; without a cost, at its price."""

    line = row_id(required=True)
    part = identifier_text()
    claimed = DimensionMap(
        load_default=dict, metadata={"description": "what the packet says it measures"}
    )
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


class ParcelLineDescription(Description):
    """One bag, and the lot it became."""

    line = Described(fields.Integer(), kept=("line_id",))
    lot = Described(fields.Integer(), kept=("lot_id",))
    pieces = Described(fields.Integer())
    counted = Described(
        fields.Integer(metadata={"description": "how many of them count for the line"}),
        kept=("counted_pieces",),
    )
    differences = Described(fields.List(fields.Nested(DifferenceSchema)))


class ParcelDescription(Description):
    """What came at one time, and how the order stands with it."""

    id = Described(fields.Integer())
    order = Described(fields.String(), kept=("order_id",), read="order.number")
    group = Described(
        fields.Integer(metadata={"description": "its group in the ledger, by which it is undone"}),
        kept=("act_id",),
    )
    undone = Described(fields.Boolean())
    received_at = Described(Moment())
    note = Described(fields.String())
    lines = Described(fields.List(fields.Nested(ParcelLineDescription.shows("ParcelLine"))))
    order_lines = Described(fields.List(fields.Nested(OrderLineSchema)))
    differences = Described(fields.List(fields.Nested(DifferenceSchema)))


ParcelSchema = ParcelDescription.shows("Parcel")
OrderPageSchema = page_schema("orders", OrderSchema)
ParcelPageSchema = page_schema("parcels", ParcelSchema)
