"""What donors and their components look like in JSON."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from marshmallow import fields, post_load, validate, validates_schema

from sparewell.catalogue.schemas import MATERIAL_WORDS, NOTE_WORDS
from sparewell.database.numbers import PEN_PREFIX
from sparewell.donors.operations import NewComponent
from sparewell.donors.tables import ComponentState
from sparewell.edge.description import OPTIONAL, REQUIRED, Described, Description, Heading
from sparewell.edge.fields import (
    DimensionMap,
    Moment,
    Money,
    NumberOf,
    SeveralLines,
    Text,
    identifier_text,
    note,
    row_id,
)
from sparewell.edge.measured import MeasuredMap
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema
from sparewell.lots.schemas import AttributeMap, LotSchema
from sparewell.pens.schemas import CALLED_WORDS, materials_of_a_pen

MOST_COMPONENTS = 100


class TakenSchema(Schema):
    """How a piece left: by which act, for which job, when."""

    verb = fields.String(required=True)
    job = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class ComponentDescription(Description):
    """One line of a donor's checklist, and what became of the piece; only the kind is required.

    A change of `measured` and `attributes` is merged. A new line names what it is fixed in by its
    position in the list that it comes in.
    """

    id = Described(fields.Integer())
    kind = Described(Text(longest=40), new=REQUIRED, export="kind")
    state = Described(
        fields.String(validate=validate.OneOf(tuple(ComponentState))),
        new=ComponentState.UNCHECKED,
        change=True,
        export="state",
    )
    lot = Described(fields.Integer(), nullable=True, kept=("lot_id",))
    part_of = Described(
        fields.Integer(
            strict=True,
            validate=validate.Range(0, MOST_COMPONENTS),
            error_messages={"invalid": "must be a position in this list, from 0"},
            metadata={"description": "the position in this list, from 0, of what it is fixed in"},
        ),
        new=None,
        shown=fields.Integer(metadata={"description": "a component of the same donor"}),
        nullable=True,
        export="part of",
        kept=("part_of_id",),
    )
    part_of_component = Described(
        row_id(metadata={"description": "the id of a component of this donor that it is fixed in"}),
        new=None,
        shown=False,
    )
    place = Described(fields.String(), nullable=True)
    value = Described(
        Money(
            metadata={
                "description": "by which its donor's cost is divided; where none has one, evenly"
            }
        ),
        new=None,
        change=True,
        export="value",
        kept=("value_minor",),
    )
    cost = Described(
        Money(metadata={"description": "what the piece carries of the donor's cost"}),
    )
    measured = Described(
        MeasuredMap(),
        new=dict,
        change=MeasuredMap(nulls_allowed=True),
        shown=DimensionMap(),
        read="measured",
    )
    attributes = Described(
        AttributeMap(), new=dict, change=True, shown=fields.Dict(keys=fields.String())
    )
    colour_note = Described(
        Text(metadata={"description": "the attribute of this name, for short"}),
        new=OPTIONAL,
        shown=False,
    )
    material = Described(Text(longest=60), new=None, shown=False)
    promised_to = Described(fields.String(), nullable=True, read="fate.promised_to")
    reservation = Described(fields.Integer(), nullable=True, read="fate.reservation")
    taken = Described(fields.Nested(TakenSchema), nullable=True)
    note = Described(SeveralLines(empty_allowed=True), new="", change=True, export="note")


ChangedComponentSchema = ComponentDescription.change_schema("ChangedComponent")
ComponentSchema = ComponentDescription.shows("Component")


class NewComponentSchema(ComponentDescription.new_schema("_NewComponent")):  # type: ignore[misc]
    """One line to be added to a donor's checklist."""

    @validates_schema
    def _one_holder(self, data: dict[str, Any], **_options: Any) -> None:
        if None not in (data.get("part_of"), data.get("part_of_component")):
            raise ma.ValidationError("a piece is fixed in one other", "part_of_component")

    @post_load
    def _component(self, data: dict[str, Any], **_options: Any) -> NewComponent:
        colour = data.pop("colour_note", None)
        if colour is not None:
            data["attributes"] = {**data["attributes"], "colour_note": colour}
        return NewComponent(**data)


def _components(**options: Any) -> fields.List[NewComponent]:
    return fields.List(fields.Nested(NewComponentSchema), **options)


class ToDonorSchema(Schema):
    """What a pen has that becomes a donor."""

    components = _components(load_default=list, validate=validate.Length(max=MOST_COMPONENTS))
    note = note()


class NewComponentsSchema(Schema):
    """Lines to add to a donor's checklist."""

    components = _components(
        required=True,
        validate=validate.Length(
            1, MOST_COMPONENTS, error=f"must hold from 1 to {MOST_COMPONENTS} components"
        ),
    )
    note = note()


class StripSchema(Schema):
    """Which components to take out, and where to."""

    lots = fields.List(
        row_id(),
        required=True,
        validate=validate.Length(
            1, MOST_COMPONENTS, error=f"must hold from 1 to {MOST_COMPONENTS} lots"
        ),
    )
    drawer = identifier_text(40, required=True)
    note = note()


class KeepingCautionSchema(Schema):
    """What to mind where a donor is kept."""

    caution = fields.String(required=True)
    source = fields.String(required=True)


def _kinds(said: str, *words: str) -> Described:
    """Return a column of a spreadsheet that lists kinds of parts."""
    title = f"the kinds of parts that are {said}"
    return Described(fields.List(Text()), shown=False, column=Heading(title, words))


class DonorDescription(Description):
    """A donor with its checklist; its number is the place where its pieces lie.

    The lists of kinds, by state, are only said in a spreadsheet.
    """

    number = Described(fields.String(), export="number")
    called = Described(
        Text(),
        new=REQUIRED,
        change=True,
        column=Heading("what it is called", CALLED_WORDS),
        export="called",
    )
    materials = Described(
        materials_of_a_pen(),
        new=list,
        change=True,
        column=Heading("what it is made of", (*MATERIAL_WORDS, "materials")),
        export="materials",
    )
    pen = Described(NumberOf(PEN_PREFIX), nullable=True, export="pen", kept=("pen_id",))
    components = Described(
        _components(validate=validate.Length(max=MOST_COMPONENTS)),
        new=list,
        shown=fields.List(fields.Nested(ComponentSchema)),
    )
    cost = Described(
        Money(metadata={"description": "divided over the pieces that are left of it"}),
        new=None,
        change=True,
        export="cost",
        kept=("cost_minor",),
    )
    might_fetch = Described(
        Money(metadata={"description": "what its parts might fetch together"}),
        new=None,
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
    present = _kinds("there and good", "has", "present", "there", "good", "parts")
    unchecked = _kinds("there and not looked at", "unchecked", "not checked", "maybe")
    damaged = _kinds("damaged", "damaged", "broken", "bad")
    missing = _kinds("missing", "missing", "lacks", "gone", "without")
    cautions = Described(fields.List(fields.Nested(KeepingCautionSchema)))
    note = Described(
        SeveralLines(
            empty_allowed=True,
            metadata={"description": "how it is kept: aired, cool, apart from others"},
        ),
        new="",
        change=True,
        column=Heading("a note", NOTE_WORDS),
        export="note",
    )
    created_at = Described(Moment(), export="created_at")


NewDonorSchema, ChangedDonorSchema, DonorSchema = DonorDescription.schemas("Donor")


class StrippedSchema(Schema):
    """The lots that were taken out, those fixed in others included."""

    lots = fields.List(fields.Nested(LotSchema), required=True)


DonorPageSchema = page_schema("donors", DonorSchema)
