"""What the history of a pen looks like in JSON."""

from __future__ import annotations

from marshmallow import fields

from sparewell.edge.fields import Moment
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema


class EventSchema(Schema):
    """One thing that happened to a pen."""

    at = Moment(required=True)
    what = fields.String(required=True)
    sentence = fields.String(required=True)
    job = fields.String(required=True, allow_none=True)
    actor = fields.String(required=True, allow_none=True)
    person = fields.String(required=True, allow_none=True)
    note = fields.String(required=True)
    details = fields.Dict(required=True)


EventPageSchema = page_schema("history", EventSchema)
