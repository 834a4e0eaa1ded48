"""What outcomes, pens alike and the contents of a pen look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import DayArgument, Moment, Money, note
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema
from sparewell.outcomes.tables import TurnedOut


class AlikeSchema(ShownSchema):
    """One size and how it did in pens like this; `not_said` counts jobs without an outcome."""

    kind = fields.String(required=True)
    size = fields.String(required=True)
    pens = fields.Integer(required=True, attribute="pens_in_all")
    good = fields.Integer(required=True, attribute="outcomes.good")
    tight = fields.Integer(required=True, attribute="outcomes.tight")
    loose = fields.Integer(required=True, attribute="outcomes.loose")
    leaked = fields.Integer(required=True, attribute="outcomes.leaked")
    not_said = fields.Integer(required=True, attribute="not_said")
    sentence = fields.String(required=True)
    jobs = fields.List(fields.String(), required=True, attribute="latest_jobs")


class NewOutcomeSchema(Schema):
    """How used pieces turned out."""

    outcome = fields.String(required=True, validate=validate.OneOf(tuple(TurnedOut)))
    happened_on = DayArgument(
        metadata={"description": "the day on which it was found; else the day of noting it"},
        error_messages={"invalid": "must be a day such as 2026-12-01"},
    )
    note = note()


class OutcomeSchema(ShownSchema):
    """How used pieces turned out, with what was known then; `counts` marks the latest word."""

    id = fields.Integer(required=True)
    reservation = fields.Integer(required=True, attribute="reservation_id")
    job = fields.String(required=True, attribute="fitting.job.number")
    pen = fields.String(required=True, attribute="fitting.pen.number")
    lot = fields.Integer(required=True, attribute="fitting.lot.id")
    part = fields.String(required=True, attribute="fitting.lot.part.number", allow_none=True)
    size = fields.String(required=True)
    outcome = fields.String(required=True, validate=validate.OneOf(tuple(TurnedOut)))
    happened_on = fields.Date(required=True, attribute="found_on")
    counts = fields.Boolean(required=True)
    verdict = fields.String(required=True, allow_none=True)
    glue = fields.String(
        required=True,
        metadata={
            "description": "Its own glue, else its job's; empty for a kind that is not glued in."
        },
    )
    ink = fields.String(required=True)
    readings = fields.Dict(required=True)
    note = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class CameBackSchema(OutcomeSchema):
    """A failure within the warranty, and what is known of the sale."""

    called = fields.String(required=True, attribute="fitting.pen.called")
    sold_on = fields.Date(required=True, attribute="fitting.job.sold_on")
    sold_to = fields.String(required=True, attribute="fitting.job.sold_to")
    price = Money(required=True, attribute="fitting.job.price_minor")
    warranty_until = fields.Date(required=True, attribute="fitting.job.warranty_until")


class SisterSchema(ShownSchema):
    """Pieces of the same lot in another pen; `outcome` is null where nobody has said."""

    pen = fields.String(required=True, attribute="pen.number")
    called = fields.String(required=True, attribute="pen.called")
    owner = fields.String(required=True, attribute="pen.owner")
    job = fields.String(required=True, attribute="job.number")
    reservation = fields.Integer(required=True, attribute="reservation.id")
    lot = fields.Integer(required=True, attribute="lot.id")
    used = fields.Integer(required=True, attribute="reservation.used")
    outcome = fields.String(required=True, attribute="outcome.outcome", allow_none=True)
    still_in = fields.Boolean(required=True)


class ContentSchema(ShownSchema):
    """Pieces that are in a pen now."""

    kind = fields.String(required=True, attribute="lot.kind")
    part = fields.String(required=True, attribute="lot.part.number", allow_none=True)
    lot = fields.Integer(required=True, attribute="lot.id")
    label = fields.String(required=True, attribute="lot.label", allow_none=True)
    size = fields.String(required=True)
    quantity = fields.Integer(required=True)
    seals_where = fields.String(required=True, attribute="need.seals_where", allow_none=True)
    since = Moment(required=True, attribute="movement.act.at")
    job = fields.String(required=True, attribute="job.number")
    reservation = fields.Integer(required=True, attribute="movement.reservation_id")
    glue = fields.String(
        required=True,
        metadata={
            "description": "Its own glue, else its job's; empty for a kind that is not glued in."
        },
    )
    outcome = fields.String(required=True, attribute="outcome.outcome", allow_none=True)
    actor = fields.String(required=True, attribute="movement.act.actor")
    person = fields.String(required=True, attribute="movement.act.person", allow_none=True)


ContentPageSchema = page_schema("contents", ContentSchema)
CameBackPageSchema = page_schema("outcomes", CameBackSchema)


class AlikePageSchema(page_schema("alike", AlikeSchema)):  # type: ignore[misc]
    """A page of sizes, and the settings that say which pens are alike."""

    settings = fields.List(fields.Dict(), required=True)


class OutcomePageSchema(page_schema("outcomes", OutcomeSchema)):  # type: ignore[misc]
    """A page of the outcomes of a lot and its family, and the pens to look at next."""

    sisters = fields.List(fields.Nested(SisterSchema), required=True)
    sisters_left_out = fields.Integer(required=True)
