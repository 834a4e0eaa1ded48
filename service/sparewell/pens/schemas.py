"""What pens and their readings look like in JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.catalogue.schemas import MATERIAL_WORDS, NOTE_WORDS
from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description, Heading
from sparewell.edge.fields import (
    Flag,
    Length,
    Moment,
    Money,
    SeveralLines,
    Text,
    free_text,
    row_id,
)
from sparewell.edge.paging import PageArguments, page_schema
from sparewell.edge.schema import Schema
from sparewell.extend.pen_materials import CONFIDENCES, UNKNOWN

MOST_COMPONENTS = 50
MOST_READINGS = 100
MOST_MATERIALS = 20


class PenComponentSchema(Schema):
    """What one component of a pen is made of, and how sure that is."""

    component = Text(longest=60, required=True)
    material = Text(longest=60, load_default=None, allow_none=True)
    confidence = fields.String(load_default=UNKNOWN, validate=validate.OneOf(CONFIDENCES))


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


def materials_of_a_pen(**options: Any) -> fields.List[str]:
    """Return the field for what a pen is made of."""
    return fields.List(Text(longest=60), validate=validate.Length(max=MOST_MATERIALS), **options)


class NewReadingsSchema(Schema):
    """Further readings; the earlier ones stay, also the one they correct."""

    readings = ReadingMap(required=True, validate=validate.Length(min=1, error="give at least one"))
    corrects = row_id(metadata={"description": "the id of a reading that was wrong"})
    why = SeveralLines()

    @ma.validates_schema
    def correction_has_a_reason(self, data: Mapping[str, Any], **_options: Any) -> None:
        """Refuse a correction without its reason, and a reason without its correction."""
        if "corrects" in data and "why" not in data:
            raise ma.ValidationError("say why the reading was wrong", "why")
        if "why" in data and "corrects" not in data:
            raise ma.ValidationError("say which reading was wrong, by its id", "corrects")


class ReadingDescription(Description):
    """One measurement. `value` is in millimetres where it is a length, else as it was given."""

    id = Described(fields.Integer())
    name = Described(fields.String())
    value = Described(fields.Raw(metadata={"type": ["number", "string"]}))
    entered = Described(fields.String())
    instrument = Described(fields.String(), nullable=True)
    spread = Described(Length(zero_allowed=True), nullable=True, kept=("spread_nanometres",))
    actor = Described(fields.String())
    person = Described(fields.String(), nullable=True)
    at = Described(Moment())
    correction = Described(fields.Nested(CorrectionSchema), nullable=True)


ReadingSchema = ReadingDescription.shows("Reading")

CALLED_WORDS = ("called", "pen", "name", "description", "desc", "model", "what", "donor")
SYSTEM_WORDS = ("filling system", "filler", "filling", "system", "type", "mechanism")
OWNER_WORDS = ("owner", "whose", "customer", "client", "for")


class PenDescription(Description):
    """A pen. `readings` holds the latest of each name, `all_readings` every one, oldest first.

    A corrected reading is no longer among the `readings`. Pens are retired, never deleted.
    """

    number = Described(fields.String(), export="number")
    called = Described(
        Text(),
        new=REQUIRED,
        change=True,
        column=Heading("what it is called", CALLED_WORDS),
        export="called",
    )
    filling_system = Described(
        Text(longest=40),
        new=REQUIRED,
        change=True,
        column=Heading("its filling system", SYSTEM_WORDS),
        export="filling_system",
    )
    materials = Described(
        materials_of_a_pen(),
        new=list,
        change=True,
        column=Heading("what it is made of", (*MATERIAL_WORDS, "materials")),
        export="materials",
    )
    owner = Described(
        free_text(200),
        new=OPTIONAL,
        change=True,
        column=Heading("whose it is", OWNER_WORDS),
        export="owner",
    )
    accessories = Described(
        SeveralLines(empty_allowed=True),
        new=OPTIONAL,
        change=True,
        column=Heading("what came with it", ("accessories", "came with", "with it")),
        export="accessories",
    )
    condition = Described(
        SeveralLines(empty_allowed=True),
        new=OPTIONAL,
        change=True,
        column=Heading("how it came", ("condition", "state", "fault", "faults")),
        export="condition",
    )
    components = Described(
        fields.List(
            fields.Nested(PenComponentSchema), validate=validate.Length(max=MOST_COMPONENTS)
        ),
        new=OPTIONAL,
        change=True,
    )
    model_note = Described(
        free_text(200),
        new=OPTIONAL,
        change=True,
        column=Heading("your own note of its model", ("model note", "model", "family")),
        export="model_note",
        kept=("model_note", "model_key"),
    )
    cost = Described(
        Money(),
        new=OPTIONAL,
        change=True,
        column=Heading("what it cost", ("cost", "price", "paid", "price paid")),
        export="cost",
        kept=("cost_minor",),
    )
    might_fetch = Described(
        Money(metadata={"description": "what it might fetch once it is restored"}),
        new=OPTIONAL,
        change=True,
        export="might_fetch",
        kept=("might_fetch_minor",),
    )
    purchase = Described(
        fields.Integer(metadata={"description": "the purchase that says what it cost"}),
        nullable=True,
        export="purchase",
        kept=("purchase_id",),
    )
    readings = Described(
        ReadingMap(),
        new=dict,
        shown=fields.Dict(keys=fields.String(), values=fields.Nested(ReadingSchema)),
        column=Heading("readings"),
    )
    all_readings = Described(fields.List(fields.Nested(ReadingSchema)))
    note = Described(
        SeveralLines(empty_allowed=True),
        new="",
        change=True,
        column=Heading("a note", NOTE_WORDS),
        export="note",
    )
    created_at = Described(Moment(), export="created_at")
    retired = Described(Flag(), change=True, shown=fields.Boolean())
    retired_at = Described(Moment(), export="retired_at")
    warnings = Described(fields.List(fields.String()))


NewPenSchema, ChangedPenSchema, PenSchema = PenDescription.schemas("Pen")


class PenArguments(PageArguments):
    """How the list of pens may be narrowed."""

    filling_system = Text(longest=40)


PenPageSchema = page_schema("pens", PenSchema)
