"""What plugins and settings look like in JSON."""

from __future__ import annotations

from marshmallow import fields

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import Moment, SeveralLines
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema

_ANY = ["number", "string", "boolean", "array", "null"]


class PluginSchema(Schema):
    """One plugin, as it was found."""

    name = fields.String(required=True)
    distribution = fields.String(required=True)
    version = fields.String(required=True)
    state = fields.String(required=True)
    hooks = fields.List(fields.String(), required=True)


class SettingSchema(ShownSchema):
    """A number of the trade, its value, its source, and who changed it."""

    name = fields.String(required=True, attribute="setting.name")
    title = fields.String(required=True, attribute="setting.title")
    type = fields.String(required=True, attribute="setting.type.value")
    value = fields.Raw(required=True, attribute="shown_value", metadata={"type": _ANY})
    default = fields.Raw(required=True, metadata={"type": _ANY})
    unit = fields.String(required=True)
    choices = fields.List(fields.String(), required=True, attribute="setting.choices")
    source = fields.String(required=True, attribute="setting.source")
    help = fields.String(required=True, attribute="setting.help")
    changed_by = fields.String(required=True, allow_none=True)
    person = fields.String(required=True, allow_none=True)
    changed_at = Moment(required=True)
    why = fields.String(required=True, allow_none=True)


class ChangedSettingSchema(Schema):
    """A new value, and why."""

    value = fields.Raw(
        required=True,
        allow_none=True,
        metadata={
            "type": _ANY[:-1],
            "description": "a length is in millimetres, or carries its unit",
        },
    )
    why = SeveralLines(required=True)


PluginPageSchema = page_schema("plugins", PluginSchema)
SettingPageSchema = page_schema("settings", SettingSchema)
