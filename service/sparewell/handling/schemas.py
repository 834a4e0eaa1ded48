"""What is said of pieces that are counted, moved, cut or put back, in JSON."""

from __future__ import annotations

from typing import Any

from marshmallow import fields, post_load, validate

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import (
    MOST_PIECES,
    Length,
    SeveralLines,
    identifier_text,
    note,
    pieces,
    row_id,
)
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema
from sparewell.handling.conversions import CONDITIONS_PUT_BACK, KitContent
from sparewell.handling.sheets import Offcut
from sparewell.ledger.schemas import MovementSchema
from sparewell.lots.schemas import LotSchema

MOST_CONTENTS = 50
MOST_OFFCUTS = 20
MOST_COUNTS = 500


class ReleaseSchema(Schema):
    """What every act on a lot takes: a note, and reservations to give up for it."""

    note = note()
    release = fields.List(
        row_id(),
        load_default=list,
        validate=validate.Length(max=100),
        metadata={"description": "ids of reservations of this lot to release first"},
    )


class CountSchema(ReleaseSchema):
    """What was counted, pieces in trays included."""

    counted = fields.Integer(
        required=True,
        strict=True,
        validate=validate.Range(
            0, MOST_PIECES, error=f"must be a whole number from 0 to {MOST_PIECES}"
        ),
        error_messages={"invalid": f"must be a whole number from 0 to {MOST_PIECES}"},
    )


class DiscardSchema(ReleaseSchema):
    """How many to throw away."""

    quantity = pieces(required=True)


class MoveSchema(ReleaseSchema):
    """Where to; without a quantity the whole lot goes."""

    drawer = identifier_text(40, required=True)
    quantity = pieces()


class CutSchema(ReleaseSchema):
    """How long the pieces are to be."""

    length = Length(required=True)
    quantity = pieces(load_default=1)
    keep_offcut = fields.Boolean(
        load_default=None,
        truthy={True},
        falsy={False},
        metadata={
            "description": "whether what is left over becomes a lot; without it, where its length "
            "can be known"
        },
    )


class PutBackSchema(Schema):
    """Which used pieces come back, and how they are now."""

    reservation = row_id(required=True)
    quantity = pieces(load_default=1)
    condition = fields.String(required=True, validate=validate.OneOf(CONDITIONS_PUT_BACK))
    length = Length(metadata={"description": "how long they are now; needed when cut"})
    note = note()


class KitContentSchema(Schema):
    """What one kit holds of a part."""

    part = identifier_text(required=True)
    quantity = pieces(load_default=1)
    share = fields.Integer(
        strict=True,
        validate=validate.Range(
            1, MOST_PIECES, error=f"must be a whole number from 1 to {MOST_PIECES}"
        ),
        error_messages={"invalid": f"must be a whole number from 1 to {MOST_PIECES}"},
        metadata={"description": "how its cost weighs against the others' shares"},
    )

    @post_load
    def _content(self, data: dict[str, Any], **_options: Any) -> KitContent:
        return KitContent(**data)


class OpenKitSchema(ReleaseSchema):
    """What one piece of the lot holds."""

    contents = fields.List(
        fields.Nested(KitContentSchema),
        required=True,
        validate=validate.Length(
            1, MOST_CONTENTS, error=f"must hold from 1 to {MOST_CONTENTS} contents"
        ),
    )


class OffcutSchema(Schema):
    """A piece of the sheet that is left."""

    width = Length(required=True)
    length = Length(required=True)

    @post_load
    def _offcut(self, data: dict[str, Any], **_options: Any) -> Offcut:
        return Offcut(**data)


class PunchSchema(ReleaseSchema):
    """What is punched out of one sheet of the lot, and what is left of it."""

    part = identifier_text(required=True)
    quantity = pieces(load_default=1)
    outside_diameter = Length(required=True)
    inside_diameter = Length(load_default=None)
    offcuts = fields.List(
        fields.Nested(OffcutSchema),
        load_default=None,
        allow_none=True,
        validate=validate.Length(max=MOST_OFFCUTS),
        metadata={
            "description": "what is worth keeping of the sheet, by width and length; left out, the "
            "rest is kept as one rectangle, and an empty list keeps nothing"
        },
    )


class ConversionSchema(ShownSchema):
    """What was done: its group of movements, the lot taken from, the lots made."""

    group = fields.Integer(required=True)
    taken_from = fields.Nested(LotSchema, required=True)
    made = fields.List(fields.Nested(LotSchema), required=True)
    says = fields.String(
        required=True,
        metadata={"description": "what was taken of a sheet and what is left; else empty"},
    )


class UndoSchema(Schema):
    """Why it is undone."""

    note = note()


class UndoingSchema(Schema):
    """The group that undoes another, and its lines."""

    group = fields.Integer(required=True)
    undoes = fields.Integer(required=True)
    movements = fields.List(fields.Nested(MovementSchema), required=True)


class CountLineSchema(ShownSchema):
    """What should be found of one lot in a drawer, pieces in trays included."""

    lot = fields.Integer(required=True, attribute="id")
    part = fields.String(required=True, attribute="part.number", allow_none=True)
    kind = fields.String(required=True)
    label = fields.String(required=True, allow_none=True)
    condition = fields.String(required=True, allow_none=True)
    in_hand = fields.Integer(required=True)
    promised = fields.Integer(required=True)
    jobs = fields.List(fields.String(), required=True, attribute="held.jobs")
    in_trays = fields.Integer(required=True, attribute="held.in_trays")


class OneCountSchema(Schema):
    """What was counted of one lot, pieces in trays included."""

    lot = row_id(required=True)
    counted = CountSchema().declared_fields["counted"]

    @post_load
    def _pair(self, data: dict[str, Any], **_options: Any) -> tuple[int, int]:
        return data["lot"], data["counted"]


class CountsSchema(Schema):
    """What was counted in a drawer."""

    counts = fields.List(
        fields.Nested(OneCountSchema),
        required=True,
        validate=validate.Length(1, MOST_COUNTS, error=f"must hold from 1 to {MOST_COUNTS} counts"),
    )
    reason = SeveralLines(empty_allowed=True, load_default="")
    release = ReleaseSchema().declared_fields["release"]


class CountedSchema(ShownSchema):
    """What became of one lot."""

    lot = fields.Integer(required=True, attribute="lot.id")
    expected = fields.Integer(required=True)
    counted = fields.Integer(required=True)
    difference = fields.Integer(required=True)


class StocktakeSchema(Schema):
    """The one group that holds every count, and what of the drawer was not counted."""

    group = fields.Integer(required=True)
    counted = fields.List(fields.Nested(CountedSchema), required=True)
    not_counted = fields.List(fields.Nested(CountLineSchema), required=True)


CountSheetSchema = page_schema("lines", CountLineSchema)
