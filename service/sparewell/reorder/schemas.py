"""What the list of what to order, thresholds and order plans look like in JSON."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.catalogue.tables import Part
from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import (
    Moment,
    Money,
    SeveralLines,
    Text,
    WholeNumberArgument,
    identifier_text,
    pieces,
)
from sparewell.edge.paging import PageArguments
from sparewell.edge.schema import Schema
from sparewell.reorder.planning import MOST_LINES

MOST_WAIT_DAYS = 365


class ReorderArguments(PageArguments):
    """Which lines: those that are due, unless `all` is true."""

    all = fields.String(
        validate=validate.OneOf(("true", "false")),
        metadata={"description": "true: those not due as well"},
    )


class ReorderLineSchema(ShownSchema):
    """One part. `available` is free and in date on the day of use; `order_quantity` in pieces."""

    part = fields.String(required=True, attribute="part.number")
    name = fields.String(required=True, attribute="part.name")
    available = fields.Integer(required=True)
    promised = fields.Integer(required=True)
    over_age = fields.Integer(
        required=True, metadata={"description": "free pieces past their date on the day of use"}
    )
    on_order = fields.Integer(required=True)
    wanted_by_jobs = fields.Integer(
        required=True,
        attribute="wanted.pieces",
        metadata={"description": "what open jobs want and have not reserved"},
    )
    short = fields.Integer(
        required=True,
        attribute="wanted.short",
        metadata={"description": "how many of those no piece in hand covers"},
    )
    jobs = fields.List(fields.String(), required=True, attribute="wanted.jobs")
    reorder_point = fields.Integer(
        required=True, attribute="ruling.decision.reorder_point", allow_none=True
    )
    order_up_to = fields.Integer(
        required=True, attribute="ruling.decision.order_up_to", allow_none=True
    )
    order_quantity = fields.Integer(required=True)
    capped_at = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "for what ages: as many as will be used in time"},
    )
    policy = fields.String(required=True, attribute="ruling.policy", allow_none=True)
    achieved_level = fields.Float(
        required=True, attribute="ruling.decision.achieved_level", allow_none=True
    )
    history = fields.List(
        fields.Integer(),
        required=True,
        attribute="demand.history",
        metadata={"description": "pieces used by period, the oldest first"},
    )
    lead_days = fields.Integer(required=True, attribute="demand.lead_days")
    supplier = fields.Integer(required=True, attribute="offer.supplier_id", allow_none=True)
    why = fields.String(required=True)


class UnmatchedSchema(Schema):
    """A need that is short and for which the catalogue has no part."""

    job = fields.String(required=True)
    need = fields.Integer(required=True)
    kind = fields.String(required=True)
    short = fields.Integer(required=True)
    ask_for = fields.List(fields.String(), required=True)


class ReorderPageSchema(Schema):
    """A page of what is to be ordered."""

    lines = fields.List(fields.Nested(ReorderLineSchema), required=True)
    next = fields.String(required=True, allow_none=True)
    unmatched = fields.List(fields.Nested(UnmatchedSchema), required=True)
    not_judged = fields.Integer(
        required=True,
        metadata={"description": "of how many parts nothing is known: their policy has failed"},
    )
    notes = fields.List(fields.String(), required=True)


class ChangedThresholdSchema(Schema):
    """When a part is to be ordered; a policy of null leaves it to the workshop's own again."""

    policy = Text(longest=40, required=True, allow_none=True)
    parameters = fields.Dict(
        keys=fields.String(),
        load_default=dict,
        metadata={"description": "as the policy describes them"},
    )
    why = SeveralLines(required=True)


class ThresholdEntrySchema(Schema):
    """What was said at one time."""

    policy = fields.String(required=True, allow_none=True)
    parameters = fields.Dict(keys=fields.String(), required=True)
    why = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class ThresholdSchema(ShownSchema):
    """When a part is to be ordered, and all that was said of it, the oldest first."""

    part = fields.String(required=True, attribute="number")
    policy = fields.String(
        required=True, allow_none=True, metadata={"description": "null: the workshop's own"}
    )
    parameters = fields.Dict(keys=fields.String(), required=True)
    history = fields.List(fields.Nested(ThresholdEntrySchema), required=True)


class WantedLineSchema(Schema):
    """So many pieces of a part."""

    part = identifier_text(required=True)
    quantity = pieces(required=True)


class PlanRequestSchema(Schema):
    """What to order; without lines all that is due."""

    lines = fields.List(
        fields.Nested(WantedLineSchema), validate=validate.Length(min=1, max=MOST_LINES)
    )


class PlanArguments(Schema):
    """How long waiting would be."""

    wait_days = WholeNumberArgument(
        load_default=7,
        validate=validate.Range(1, MOST_WAIT_DAYS, error=f"must be from 1 to {MOST_WAIT_DAYS}"),
        error_messages={"invalid": f"must be a whole number from 1 to {MOST_WAIT_DAYS}"},
    )


class PlannedLineSchema(ShownSchema):
    """So many packs of an offer, for the pieces wanted."""

    part = fields.String(required=True)
    offer = fields.Integer(required=True, attribute="offer.id")
    item_number = fields.String(required=True, attribute="offer.item_number")
    packs = fields.Integer(required=True)
    pack_pieces = fields.Integer(required=True, attribute="offer.pack_pieces")
    pieces = fields.Integer(required=True)
    wanted = fields.Integer(required=True)
    price = Money(required=True)
    cost = Money(required=True)


class PlannedOrderSchema(ShownSchema):
    """What one supplier is to get."""

    supplier = fields.Integer(required=True, attribute="supplier.id")
    supplier_name = fields.String(required=True, attribute="supplier.name")
    lines = fields.List(fields.Nested(PlannedLineSchema), required=True)
    goods = Money(required=True, attribute="bill.goods")
    postage = Money(required=True, attribute="bill.postage")
    total = Money(required=True)
    minimum_order = Money(required=True, attribute="supplier.minimum_order_minor")
    minimum_met = fields.Boolean(required=True)


class ShownWantedSchema(WantedLineSchema):
    """A part, and how many pieces of it."""

    @ma.pre_dump
    def _named(self, pair: tuple[Part, int], **_options: Any) -> dict[str, Any]:
        part, quantity = pair
        return {"part": part.number, "quantity": quantity}


class WaitingSchema(Schema):
    """What ordering later would save, and how that was reckoned."""

    days = fields.Integer(required=True)
    joining = fields.List(fields.Nested(ShownWantedSchema), required=True)
    saves = Money(required=True)
    how = fields.String(required=True)


class OrderPlanSchema(ShownSchema):
    """The least order. A plain one was not looked for by the solver, and may not be the least."""

    orders = fields.List(fields.Nested(PlannedOrderSchema), required=True)
    total = Money(required=True)
    plain = fields.Boolean(required=True, attribute="is_plain")
    proven = fields.Boolean(required=True, attribute="answer.is_proven")
    gap = fields.Float(
        required=True,
        attribute="answer.gap",
        allow_none=True,
        metadata={"description": "by which share it may be above the least; null: not known"},
    )
    how = fields.String(required=True, attribute="answer.how")
    unoffered = fields.List(fields.Nested(ShownWantedSchema), required=True)
    waiting = fields.Nested(WaitingSchema, required=True)
    notes = fields.List(fields.String(), required=True)
