"""What donors and their components look like in JSON."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from marshmallow import fields, post_load, validate, validates_schema

from sparewell.donors.operations import NewComponent
from sparewell.donors.tables import ComponentState
from sparewell.edge.fields import DimensionMap, Moment, Schema, Text, identifier_text, note, row_id
from sparewell.edge.measured import MeasuredMap
from sparewell.edge.paging import page_schema
from sparewell.lots.schemas import AttributeMap, LotSchema

MOST_COMPONENTS = 100
MOST_MATERIALS = 20


def _materials(**options: Any) -> fields.List[str]:
    return fields.List(Text(longest=60), validate=validate.Length(max=MOST_MATERIALS), **options)


class NewComponentSchema(Schema):
    """One line of a donor's checklist; only the kind is required."""

    kind = Text(longest=40, required=True)
    state = fields.String(
        load_default=ComponentState.UNCHECKED, validate=validate.OneOf(tuple(ComponentState))
    )
    measured = MeasuredMap(load_default=dict)
    attributes = AttributeMap(load_default=dict)
    material = Text(longest=60, load_default=None)
    colour_note = Text(metadata={"description": "the attribute of this name, for short"})
    part_of = fields.Integer(
        strict=True,
        allow_none=True,
        load_default=None,
        validate=validate.Range(0, MOST_COMPONENTS),
        error_messages={"invalid": "must be a position in this list, from 0"},
        metadata={"description": "the position in this list, from 0, of what it is fixed in"},
    )
    part_of_component = row_id(
        allow_none=True,
        load_default=None,
        metadata={"description": "the id of a component of this donor that it is fixed in"},
    )
    note = note()

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


class NewDonorSchema(Schema):
    """A pen kept to be stripped; only what it is called is required."""

    called = Text(required=True)
    materials = _materials(load_default=list)
    components = _components(load_default=list, validate=validate.Length(max=MOST_COMPONENTS))
    note = note(metadata={"description": "how it is kept: aired, cool, apart from others"})


class ChangedDonorSchema(Schema):
    """What may be changed of a donor itself."""

    called = Text()
    materials = _materials()
    note = Text(longest=2000, empty_allowed=True)


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


class ChangedComponentSchema(Schema):
    """What may be changed of a component; `measured` and `attributes` are merged."""

    state = fields.String(validate=validate.OneOf(tuple(ComponentState)))
    measured = MeasuredMap(nulls_allowed=True)
    attributes = AttributeMap()
    note = Text(longest=2000, empty_allowed=True)


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


class TakenSchema(Schema):
    """How a piece left: by which act, for which job, when."""

    verb = fields.String(required=True)
    job = fields.String(required=True, allow_none=True)
    at = Moment(required=True)


class ComponentSchema(Schema):
    """One line of a donor's checklist, and what became of the piece."""

    id = fields.Integer(required=True)
    kind = fields.String(required=True)
    state = fields.String(required=True, validate=validate.OneOf(tuple(ComponentState)))
    lot = fields.Integer(required=True, allow_none=True)
    part_of = fields.Integer(
        required=True, allow_none=True, metadata={"description": "a component of the same donor"}
    )
    place = fields.String(required=True, allow_none=True)
    measured = DimensionMap(required=True)
    attributes = fields.Dict(keys=fields.String(), required=True)
    promised_to = fields.String(required=True, allow_none=True)
    reservation = fields.Integer(required=True, allow_none=True)
    taken = fields.Nested(TakenSchema, required=True, allow_none=True)
    note = fields.String(required=True)


class KeepingCautionSchema(Schema):
    """What to mind where a donor is kept."""

    caution = fields.String(required=True)
    source = fields.String(required=True)


class DonorSchema(Schema):
    """A donor with its checklist; its number is the place where its pieces lie."""

    number = fields.String(required=True)
    called = fields.String(required=True)
    pen = fields.String(required=True, allow_none=True)
    materials = fields.List(fields.String(), required=True)
    components = fields.List(fields.Nested(ComponentSchema), required=True)
    cautions = fields.List(fields.Nested(KeepingCautionSchema), required=True)
    note = fields.String(required=True)
    created_at = Moment(required=True)


class StrippedSchema(Schema):
    """The lots that were taken out, those fixed in others included."""

    lots = fields.List(fields.Nested(LotSchema), required=True)


DonorPageSchema = page_schema("donors", DonorSchema)
