"""What the lines of the ledger look like in JSON."""

from __future__ import annotations

from marshmallow import fields, validate

from sparewell.edge.fields import DayArgument, Moment, Schema, Text, row_id_argument
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.ledger.tables import Verb


class MovementSchema(Schema):
    """One line of the ledger."""

    id = fields.Integer(required=True)
    group = fields.Integer(required=True)
    undoes = fields.Integer(
        required=True,
        allow_none=True,
        metadata={"description": "the group that this one undoes"},
    )
    at = Moment(required=True)
    lot = fields.Integer(required=True)
    verb = fields.String(required=True)
    change = fields.Integer(required=True)
    pieces = fields.Integer(required=True)
    cost_change = fields.String(required=True)
    place = fields.String(required=True)
    from_place = fields.String(required=True, allow_none=True)
    reservation = fields.Integer(required=True, allow_none=True)
    job = fields.String(required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    note = fields.String(required=True)


class MovementArguments(PageArguments):
    """How the ledger may be narrowed."""

    lot = row_id_argument()
    job = Text(longest=40)
    reservation = row_id_argument()
    group = row_id_argument()
    verb = fields.String(validate=validate.OneOf(tuple(Verb)))
    since = DayArgument(metadata={"description": "only lines of this day (UTC) and later"})


MovementPageSchema = page_schema("movements", MovementSchema)
