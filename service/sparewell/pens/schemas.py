"""What pens and their readings look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.fields import Flag, Length, Moment, Money, Schema, Text, free_text, note, row_id
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.extend.pen_materials import CONFIDENCES, UNKNOWN

MOST_COMPONENTS = 50
MOST_READINGS = 100
MOST_MATERIALS = 20


class PenComponentSchema(Schema):
    """What one component of a pen is made of, and how sure that is."""

    component = Text(longest=60, required=True)
    material = Text(longest=60, load_default=None, allow_none=True)
    confidence = fields.String(load_default=UNKNOWN, validate=validate.OneOf(CONFIDENCES))


class PenIntakeSchema(Schema):
    """What is noted of a pen at intake beside its readings."""

    owner = free_text(200)
    accessories = free_text(2000)
    condition = free_text(2000)
    components = fields.List(
        fields.Nested(PenComponentSchema), validate=validate.Length(max=MOST_COMPONENTS)
    )
    model_note = free_text(200)
    cost = Money()


class ChangedPenIntakeSchema(PenIntakeSchema):
    """The same, and whether the pen is still about; pens are retired, never deleted."""

    retired = Flag()


class CorrectionSchema(Schema):
    """Why a reading counts no more, and which one stands in its place."""

    by = fields.Integer(required=True, allow_none=True, attribute="by_reading_id")
    why = fields.String(required=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class ReadingMap(fields.Field[Any]):
    """An object of readings by name; what each may be, the loaded calculators say."""

    def __init__(self, **options: Any) -> None:
        metadata = {
            "type": "object",
            "description": "by name: a length such as 8.0 or '8.0 mm', or an object with value, "
            "instrument and spread",
            "additionalProperties": {"type": ["number", "string", "object", "integer", "boolean"]},
            "maxProperties": MOST_READINGS,
        }
        super().__init__(metadata=metadata, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> Mapping[str, Any]:
        if not isinstance(value, Mapping):
            raise ma.ValidationError('must be an object, such as {"barrel_bore": "8.0 mm"}')
        if len(value) > MOST_READINGS:
            raise ma.ValidationError(f"at most {MOST_READINGS} readings at a time")
        return value


def _materials(**options: Any) -> fields.List[str]:
    return fields.List(Text(longest=60), validate=validate.Length(max=MOST_MATERIALS), **options)


class NewPenSchema(PenIntakeSchema):
    """A pen that comes to the bench."""

    called = Text(required=True)
    filling_system = Text(longest=40, required=True)
    materials = _materials(load_default=list)
    readings = ReadingMap(load_default=dict)
    note = note()


class ChangedPenSchema(ChangedPenIntakeSchema):
    """What may be changed of a pen; readings are added, never changed."""

    called = Text()
    filling_system = Text(longest=40)
    materials = _materials()
    note = Text(longest=2000, empty_allowed=True)


class NewReadingsSchema(Schema):
    """Further readings; the earlier ones stay, also the one they correct."""

    readings = ReadingMap(required=True, validate=validate.Length(min=1, error="give at least one"))
    corrects = row_id(metadata={"description": "the id of a reading that was wrong"})
    why = Text(longest=2000)

    @ma.validates_schema
    def correction_has_a_reason(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse a correction without its reason, and a reason without its correction."""
        if "corrects" in data and "why" not in data:
            raise ma.ValidationError("say why the reading was wrong", "why")
        if "why" in data and "corrects" not in data:
            raise ma.ValidationError("say which reading was wrong, by its id", "corrects")


class ReadingSchema(Schema):
    """One measurement. `value` is in millimetres where it is a length, else as it was given."""

    id = fields.Integer(required=True)
    name = fields.String(required=True)
    value = fields.Raw(required=True, metadata={"type": ["number", "string"]})
    entered = fields.String(required=True)
    instrument = fields.String(required=True, allow_none=True)
    spread = Length(zero_allowed=True, required=True, allow_none=True)
    actor = fields.String(required=True)
    person = fields.String(required=True, allow_none=True)
    at = Moment(required=True)
    correction = fields.Nested(CorrectionSchema, required=True, allow_none=True)


class PenSchema(Schema):
    """A pen. `readings` holds the latest of each name, `all_readings` every one, oldest first.

    A corrected reading is no longer among the `readings`.
    """

    number = fields.String(required=True)
    called = fields.String(required=True)
    filling_system = fields.String(required=True)
    materials = fields.List(fields.String(), required=True)
    readings = fields.Dict(keys=fields.String(), values=fields.Nested(ReadingSchema), required=True)
    all_readings = fields.List(fields.Nested(ReadingSchema), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    warnings = fields.List(fields.String(), required=True)
    owner = fields.String(required=True)
    accessories = fields.String(required=True)
    condition = fields.String(required=True)
    components = fields.List(fields.Nested(PenComponentSchema), required=True)
    model_note = fields.String(required=True)
    cost = Money(required=True)
    retired = fields.Boolean(required=True)
    retired_at = Moment(required=True)


class PenArguments(PageArguments):
    """How the list of pens may be narrowed."""

    filling_system = Text(longest=40)


PenPageSchema = page_schema("pens", PenSchema)
