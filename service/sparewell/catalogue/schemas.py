"""What parts and kinds look like in JSON."""

from __future__ import annotations

from marshmallow import fields

from sparewell.catalogue.tables import column_of
from sparewell.edge.description import (
    OPTIONAL,
    REQUIRED,
    Described,
    Description,
    Heading,
    ShownSchema,
)
from sparewell.edge.fields import (
    DimensionMap,
    Length,
    Moment,
    SeveralLines,
    Text,
    identifier_text,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.measure.dimensions import DIMENSIONS

# The words with which people head the columns of several things.
PART_WORDS = (
    *("part no", "part number", "part", "item", "item no", "item number", "article"),
    *("article no", "sku", "code", "part code", "catalogue no", "catalogue number", "ref"),
    *("reference", "no", "number"),
)
NOTE_WORDS = ("note", "notes", "remark", "remarks", "comment", "comments")
MATERIAL_WORDS = ("material", "stuff", "made of", "rubber", "mat")
SIZE_WORDS = ("size", "size in 64ths")


class PartDescription(Description):
    """One catalogue entry. Lengths are millimetres; a change of them is merged."""

    number = Described(
        identifier_text(),
        new=REQUIRED,
        shown=fields.String(),
        column=Heading("its number", PART_WORDS),
        export="number",
    )
    kind = Described(
        Text(longest=40),
        new=REQUIRED,
        column=Heading(
            "what kind of part it is",
            ("kind", "type", "category", "what", "sort", "kind of part"),
            choice="kind of part",
        ),
        export="kind",
    )
    name = Described(
        Text(),
        new=OPTIONAL,
        change=True,
        column=Heading(
            "what it is called",
            ("name", "description", "desc", "called", "title", "part name", "item name"),
        ),
        export="name",
    )
    material = Described(
        Text(longest=60),
        new=OPTIONAL,
        change=True,
        nullable=True,
        column=Heading("what it is made of", MATERIAL_WORDS),
        export="material",
    )
    counted_by = Described(
        Text(longest=40),
        new=OPTIONAL,
        column=Heading("what it is counted by", ("counted by", "unit", "sold by")),
        export="counted_by",
    )
    dimensions = Described(
        DimensionMap(),
        new=dict,
        change=DimensionMap(nulls_allowed=True),
        column=Heading(
            "",
            remark="a size that names no unit, under such a header, is in 64ths of an inch",
        ),
        kept=tuple(map(column_of, DIMENSIONS)),
        export="dimensions",
    )
    note = Described(
        SeveralLines(empty_allowed=True),
        new="",
        change=True,
        column=Heading("a note", NOTE_WORDS),
        export="note",
    )
    created_at = Described(Moment(), export="created_at")
    warnings = Described(fields.List(fields.String()))


NewPartSchema, ChangedPartSchema, PartSchema = PartDescription.schemas("Part")


class PartArguments(PageArguments):
    """How the list of parts may be narrowed."""

    kind = Text(longest=40)
    material = Text(longest=60)


class KindDimensionSchema(ShownSchema):
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


class KindSchema(ShownSchema):
    """A family of parts."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    dimensions = fields.List(fields.Nested(KindDimensionSchema), required=True)
    attributes = fields.List(fields.Nested(AttributeSchema), required=True)
    led_by = fields.String(required=True)
    materials = fields.List(fields.String(), required=True)
    counted_by = fields.List(fields.String(), required=True)
    plugin = fields.String(required=True)


class SizeTableSchema(ShownSchema):
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
