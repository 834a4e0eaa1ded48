"""What reservations look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.fields import Moment, Schema, Text, note, pieces, row_id_argument
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.reservations.tables import ReservationState


class VerbSchema(Schema):
    """How many pieces, and why; without a quantity all that are still promised."""

    quantity = pieces()
    note = note()


class ReservationSchema(Schema):
    """Pieces promised to a job, and what became of them."""

    id = fields.Integer(required=True)
    lot = fields.Integer(required=True)
    job = fields.String(required=True)
    need = fields.Integer(required=True, allow_none=True)
    goes_with = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "the reservation whose piece this one's is fixed in"},
    )
    quantity = fields.Integer(required=True)
    state = fields.String(required=True, validate=validate.OneOf(tuple(ReservationState)))
    promised = fields.Integer(required=True)
    in_tray = fields.Integer(required=True)
    used = fields.Integer(required=True)
    released = fields.Integer(required=True)
    spoiled = fields.Integer(required=True)
    lapsed = fields.Integer(required=True)
    verdict = fields.String(required=True, allow_none=True)
    why = fields.String(required=True, allow_none=True)
    override = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "why a person took a piece that the judgement refuses"},
    )
    note = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    created_at = Moment(required=True)
    expires_at = Moment(required=True)


class ReservationArguments(PageArguments):
    """How the list of reservations may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    state = fields.String(validate=validate.OneOf(tuple(ReservationState)))


ReservationPageSchema = page_schema("reservations", ReservationSchema)
