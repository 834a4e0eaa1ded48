"""What purchases of several pens look like in JSON."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.description import REQUIRED, Described, Description, ShownSchema
from sparewell.edge.fields import Moment, Money, SeveralLines, Text, day, free_text
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema
from sparewell.purchases.tables import Division

MOST_LINES = 200


class NewPurchaseLineSchema(Schema):
    """A pen or a donor that was bought: what it might fetch, or its amount where divided by hand.

    The value is kept with the pen or the donor, and may be left out where that has one.
    """

    pen = Text(longest=40)
    donor = Text(longest=40)
    value = Money(metadata={"description": "what it might fetch; may be left out where it is said"})
    amount = Money(metadata={"description": "its share, where divided by_hand"})

    @ma.validates_schema
    def _one_thing(self, data: dict[str, Any], **_options: Any) -> None:
        if ("pen" in data) == ("donor" in data):
            raise ma.ValidationError("names a pen or a donor, and not both", "pen")


class PurchaseLineSchema(ShownSchema):
    """A pen or a donor that was bought, and its share: this is what it cost."""

    pen = fields.String(required=True, allow_none=True)
    donor = fields.String(required=True, allow_none=True)
    called = fields.String(required=True)
    value = Money(required=True, attribute="might_fetch_minor")
    share = Money(required=True, attribute="cost_minor")


class PenPurchaseDescription(Description):
    """Several pens and donors bought together. What was paid, postage and all, is their cost.

    `lines` take the place of those before: what is left out has no known cost any more. A share
    takes the place of whatever was noted as a cost.
    """

    id = Described(fields.Integer(), export="id")
    bought_from = Described(free_text(200), new="", change=True, export="bought_from")
    bought_on = Described(
        day(),
        new=None,
        change=True,
        shown=fields.Date(),
        nullable=True,
        export="bought_on",
    )
    price = Described(Money(), new=REQUIRED, change=True, export="price", kept=("price_minor",))
    postage = Described(Money(), new=None, change=True, export="postage", kept=("postage_minor",))
    total = Described(Money(), read="row.total_minor")
    divided = Described(
        fields.String(validate=validate.OneOf(tuple(Division))),
        new=Division.EVENLY,
        change=True,
        export="divided",
    )
    lines = Described(
        fields.List(
            fields.Nested(NewPurchaseLineSchema),
            validate=validate.Length(
                1, MOST_LINES, error=f"must hold from 1 to {MOST_LINES} pens and donors"
            ),
        ),
        new=REQUIRED,
        change=True,
        shown=fields.List(fields.Nested(PurchaseLineSchema)),
    )
    note = Described(SeveralLines(empty_allowed=True), new="", change=True, export="note")
    created_at = Described(Moment(), export="created_at")


NewPenPurchaseSchema, ChangedPenPurchaseSchema, PenPurchaseSchema = PenPurchaseDescription.schemas(
    "PenPurchase"
)
PenPurchasePageSchema = page_schema("purchases", PenPurchaseSchema)
