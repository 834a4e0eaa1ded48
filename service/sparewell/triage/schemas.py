"""What the triage of a batch looks like in JSON."""

from __future__ import annotations

from enum import StrEnum

from marshmallow import fields, validate

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import Money, Text
from sparewell.edge.schema import Schema

LONGEST_LIST_CHARACTERS = 4000


class SizedBy(StrEnum):
    """What the size of a need is known by."""

    READINGS = "readings"
    PENS_ALIKE = "pens_alike"
    NOTHING = "nothing"


class TriageArguments(Schema):
    """Which pens are looked at."""

    pens = Text(
        longest=LONGEST_LIST_CHARACTERS,
        required=True,
        metadata={"description": "the numbers of pens, with commas between"},
    )


class SizesOfPensAlikeSchema(ShownSchema):
    """What pens alike took, from the smallest size to the largest, and how many they were."""

    smallest = fields.String(required=True)
    largest = fields.String(required=True)
    most_often = fields.String(required=True)
    pens = fields.Integer(required=True)
    same_model = fields.Boolean(
        required=True,
        metadata={"description": "whether they have this pen's model note, or only its system"},
    )


class TriagedNeedSchema(ShownSchema):
    """One thing that a pen would need, and what of it is in hand.

    `lacking` is what is not there when those above have theirs. Nothing is known to be there for a
    need whose size is not known; `in_hand` counts pieces of any size then.
    """

    kind = fields.String(required=True, attribute="need.row.kind")
    quantity = fields.Integer(required=True, attribute="need.quantity")
    seals_where = fields.String(required=True, attribute="need.row.seals_where")
    counts = fields.Boolean(
        required=True,
        attribute="need.counts",
        metadata={"description": "false: optional, or decided when the pen is open"},
    )
    sized_by = fields.String(required=True, validate=validate.OneOf(tuple(SizedBy)))
    sizes = fields.Nested(
        SizesOfPensAlikeSchema, required=True, allow_none=True, attribute="need.past"
    )
    says = fields.String(required=True)
    missing = fields.List(
        fields.String(),
        required=True,
        attribute="need.missing",
        metadata={"description": "readings that would size it"},
    )
    in_hand = fields.Integer(
        required=True,
        attribute="supply.in_hand",
        metadata={
            "description": "free pieces that would do or are of such a size, in the nearest bags"
        },
    )
    lacking = fields.Integer(required=True)
    price = Money(
        required=True,
        attribute="supply.price_minor",
        metadata={"description": "of a piece, in the cheapest pack that is offered"},
    )
    cost = Money(required=True, attribute="cost_minor")


class TriagedPenSchema(ShownSchema):
    """A pen of the batch; those above it go first. `why` says why it stands here."""

    pen = fields.String(required=True, attribute="pen.row.number")
    called = fields.String(required=True, attribute="pen.row.called")
    filling_system = fields.String(required=True, attribute="pen.row.filling_system")
    job = fields.String(required=True, allow_none=True, attribute="pen.open_job.number")
    cost = Money(
        required=True,
        attribute="pen.row.cost_minor",
        metadata={"description": "what was paid for it; this does not move it in the list"},
    )
    fetches = Money(required=True)
    fetches_by = fields.String(required=True, allow_none=True)
    parts_cost = Money(required=True, attribute="parts_cost_minor")
    left = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "what it fetches, less what its parts cost"},
    )
    all_in_hand = fields.Boolean(required=True)
    why = fields.String(required=True)
    needs = fields.List(fields.Nested(TriagedNeedSchema), required=True)


class LeftOutSchema(ShownSchema):
    """A pen or donor of the batch that is not to be opened, and why."""

    number = fields.String(required=True)
    why = fields.String(required=True)


class TriageSchema(ShownSchema):
    """A batch in the order in which to open its pens, and what is left out of it."""

    pens = fields.List(fields.Nested(TriagedPenSchema), required=True)
    left_out = fields.List(fields.Nested(LeftOutSchema), required=True)
