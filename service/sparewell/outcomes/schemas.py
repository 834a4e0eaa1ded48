"""What outcomes, pens alike and the contents of a pen look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.fields import Moment, Schema, note
from sparewell.edge.paging import page_schema
from sparewell.outcomes.tables import TurnedOut


class AlikeSchema(Schema):
    """One size and how it did in pens like this; `not_said` counts jobs without an outcome."""

    kind = fields.String(required=True)
    size = fields.String(required=True)
    pens = fields.Integer(required=True)
    good = fields.Integer(required=True)
    tight = fields.Integer(required=True)
    loose = fields.Integer(required=True)
    leaked = fields.Integer(required=True)
    not_said = fields.Integer(required=True)
    sentence = fields.String(required=True)
    jobs = fields.List(fields.String(), required=True)


class NewOutcomeSchema(Schema):
    """How used pieces turned out."""

    outcome = fields.String(required=True, validate=validate.OneOf(tuple(TurnedOut)))
    note = note()


class OutcomeSchema(Schema):
    """How used pieces turned out, with what was known then; `counts` marks the latest word."""

    id = fields.Integer(required=True)
    reservation = fields.Integer(required=True)
    job = fields.String(required=True)
    pen = fields.String(required=True)
    lot = fields.Integer(required=True)
    part = fields.String(required=True, allow_none=True)
    size = fields.String(required=True)
    outcome = fields.String(required=True, validate=validate.OneOf(tuple(TurnedOut)))
    counts = fields.Boolean(required=True)
    verdict = fields.String(required=True, allow_none=True)
    glue = fields.String(
        required=True,
        metadata={"description": "The glue of its job; empty for a kind that is not glued in."},
    )
    ink = fields.String(required=True)
    readings = fields.Dict(required=True)
    note = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class SisterSchema(Schema):
    """Pieces of the same lot in another pen; `outcome` is null where nobody has said."""

    pen = fields.String(required=True)
    called = fields.String(required=True)
    owner = fields.String(required=True)
    job = fields.String(required=True)
    reservation = fields.Integer(required=True)
    lot = fields.Integer(required=True)
    used = fields.Integer(required=True)
    outcome = fields.String(required=True, allow_none=True)
    still_in = fields.Boolean(required=True)


class ContentSchema(Schema):
    """Pieces that are in a pen now."""

    kind = fields.String(required=True)
    part = fields.String(required=True, allow_none=True)
    lot = fields.Integer(required=True)
    label = fields.String(required=True, allow_none=True)
    size = fields.String(required=True)
    quantity = fields.Integer(required=True)
    seals_where = fields.String(required=True, allow_none=True)
    since = Moment(required=True)
    job = fields.String(required=True)
    reservation = fields.Integer(required=True)
    glue = fields.String(
        required=True,
        metadata={"description": "The glue of its job; empty for a kind that is not glued in."},
    )
    outcome = fields.String(required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)


ContentPageSchema = page_schema("contents", ContentSchema)


class AlikePageSchema(page_schema("alike", AlikeSchema)):  # type: ignore[misc]
    """A page of sizes, and the settings that say which pens are alike."""

    settings = fields.List(fields.Dict(), required=True)


class OutcomePageSchema(page_schema("outcomes", OutcomeSchema)):  # type: ignore[misc]
    """A page of the outcomes of a lot and its family, and the pens to look at next."""

    sisters = fields.List(fields.Nested(SisterSchema), required=True)
    sisters_left_out = fields.Integer(required=True)
