"""What parts and kinds look like in JSON."""

from __future__ import annotations

from marshmallow import fields

from sparewell.edge.fields import (
    DimensionMap,
    Length,
    Moment,
    Schema,
    Text,
    identifier_text,
    note,
)
from sparewell.edge.paging import PageArguments, page_schema


class NewPartSchema(Schema):
    """A new catalogue entry; `number` and `kind` are required."""

    number = identifier_text(required=True)
    kind = Text(longest=40, required=True)
    name = Text()
    material = Text(longest=60)
    counted_by = Text(longest=40)
    dimensions = DimensionMap(load_default=dict)
    note = note()


class ChangedPartSchema(Schema):
    """What may be changed of a part; dimensions are merged into those it has."""

    name = Text()
    material = Text(longest=60, allow_none=True)
    dimensions = DimensionMap(nulls_allowed=True)
    note = Text(longest=2000, empty_allowed=True)


class PartSchema(Schema):
    """One catalogue entry. Lengths are millimetres."""

    number = fields.String(required=True)
    kind = fields.String(required=True)
    name = fields.String(required=True)
    material = fields.String(required=True, allow_none=True)
    counted_by = fields.String(required=True)
    dimensions = DimensionMap(required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)
    warnings = fields.List(fields.String(), required=True)


class PartArguments(PageArguments):
    """How the list of parts may be narrowed."""

    kind = Text(longest=40)
    material = Text(longest=60)


class KindDimensionSchema(Schema):
    """One dimension of a kind, with the bounds of the usual in millimetres."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    usual_min = Length(allow_none=True)
    usual_max = Length(allow_none=True)


class AttributeSchema(Schema):
    """What is said of a piece besides its lengths."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    type = fields.String(required=True)
    choices = fields.List(fields.String(), required=True)


class KindSchema(Schema):
    """A family of parts."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    dimensions = fields.List(fields.Nested(KindDimensionSchema), required=True)
    attributes = fields.List(fields.Nested(AttributeSchema), required=True)
    led_by = fields.String(required=True)
    materials = fields.List(fields.String(), required=True)
    counted_by = fields.List(fields.String(), required=True)
    plugin = fields.String(required=True)


class SizeTableSchema(Schema):
    """A published table of sizes, without its rows."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    source = fields.String(required=True)
    plugin = fields.String(required=True)


class SizesSchema(SizeTableSchema):
    """Rows of a published table; lengths are millimetres."""

    sizes = fields.List(fields.Dict(keys=fields.String()), required=True)
    next = fields.String(required=True, allow_none=True)


SizeTablePageSchema = page_schema("size_tables", SizeTableSchema)
PartPageSchema = page_schema("parts", PartSchema)
KindPageSchema = page_schema("kinds", KindSchema)
