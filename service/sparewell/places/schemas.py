"""What drawers look like in JSON."""

from __future__ import annotations

from marshmallow import fields

from sparewell.edge.fields import Moment, Schema, Text, identifier_text, note
from sparewell.edge.paging import page_schema


class NewDrawerSchema(Schema):
    """A new drawer; only the code is required."""

    code = identifier_text(40, required=True)
    note = note()


class ChangedDrawerSchema(Schema):
    """What may be changed of a drawer."""

    note = Text(longest=2000, empty_allowed=True)


class DrawerSchema(Schema):
    """A drawer."""

    code = fields.String(required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)


DrawerPageSchema = page_schema("drawers", DrawerSchema)
