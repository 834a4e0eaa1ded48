"""What filling systems and their parts look like in JSON, coming in and going out."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import Flag, Moment, Text, note, pieces
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema
from sparewell.extend.declarations import NAME
from sparewell.extend.values import ValueRefused, read_number

MOST_NEEDS = 50
MOST_ITEMS = 100
MOST_MEMBERS = 30
LONGEST_VALUE = 200
_NAME_PATTERN = f"^{NAME.pattern}$"


class MemberMap(fields.Field[Any]):
    """An object of a few plain values by name; numbers are kept as texts, to the digit."""

    example = 'must be an object, such as {"gland": "rod"}'

    def __init__(
        self, *, values: tuple[str, ...] = ("string", "number", "boolean"), **more: Any
    ) -> None:
        self.values = values
        metadata = {
            "type": "object",
            "additionalProperties": {
                "type": list(values),
                "minLength": 1,
                "maxLength": LONGEST_VALUE,
            },
            "propertyNames": {"pattern": _NAME_PATTERN},
            "maxProperties": MOST_MEMBERS,
        }
        super().__init__(metadata=metadata, **more)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> dict[str, str | int | bool]:
        if not isinstance(value, Mapping):
            raise ma.ValidationError(self.example)
        if len(value) > MOST_MEMBERS:
            raise ma.ValidationError(f"at most {MOST_MEMBERS} members")
        faults = {name: fault for name, each in value.items() if (fault := self._fault(name, each))}
        if faults:
            raise ma.ValidationError(faults)
        return {
            name: format(each, "f") if isinstance(each, Decimal) else each
            for name, each in value.items()
        }

    def _fault(self, name: str, value: Any) -> str | None:
        if not NAME.fullmatch(name):
            return "must be named with small letters, digits and underscores"
        if isinstance(value, str):
            if 0 < len(value) <= LONGEST_VALUE and value.isprintable():
                return None
            return f"must be a text of 1 to {LONGEST_VALUE} printable characters"
        if "number" in self.values and isinstance(value, bool | int | Decimal):
            try:
                read_number(int(value) if isinstance(value, bool) else value)
            except ValueRefused as error:
                return str(error)
            return None
        return f"must be a {' or '.join(self.values)}"


class FigureField(fields.Field[Any]):
    """A figure of a test, which may come as a number or as a text such as "0.8"."""

    def __init__(self, **more: Any) -> None:
        super().__init__(metadata={"type": ["number", "string"]}, **more)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> str:
        try:
            return format(read_number(value), "f")
        except ValueRefused as error:
            raise ma.ValidationError(str(error)) from error

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> Any:
        if value is None:
            return None
        number = Decimal(value)
        return int(number) if number == number.to_integral_value() else float(number)


def _texts(longest: int = 500, **more: Any) -> fields.List[str]:
    return fields.List(Text(longest=longest), validate=validate.Length(max=MOST_ITEMS), **more)


def _items(schema: type[Schema], most: int = MOST_ITEMS, least: int = 0, **more: Any) -> Any:
    many = f"must be {least} to {most} of them"
    return fields.List(
        fields.Nested(schema), validate=validate.Length(least, most, error=many), **more
    )


def given_map(**more: Any) -> MemberMap:
    """Return the field for inputs of a calculator that are given."""
    return MemberMap(**more)


def reads_map(**more: Any) -> MemberMap:
    """Return the field that says from which readings inputs or dimensions are taken."""
    return MemberMap(values=("string",), **more)


def materials_list(**more: Any) -> fields.List[str]:
    """Return the field for the materials that a need is taken in, the first one first."""
    about = (
        "the materials that are taken, the first one first, ahead of size and age; any other is "
        "offered, and taken only when it is named. Empty: no order."
    )
    return fields.List(
        Text(longest=60), validate=validate.Length(max=20), metadata={"description": about}, **more
    )


class TemplateNeedSchema(Schema):
    """One perishable of a filling system."""

    kind = Text(longest=40, required=True)
    seals_where = Text(required=True)
    quantity = pieces(load_default=1)
    at_most = pieces(load_default=None, allow_none=True)
    calculator = Text(longest=40, load_default=None, allow_none=True)
    optional = Flag(load_default=False)
    given = given_map(load_default=dict)
    reads = reads_map(load_default=dict)
    materials = materials_list(load_default=list)
    together = Text(longest=100, empty_allowed=True, load_default="")
    decided_when_open = Flag(load_default=False)
    note = note()


class HowToReadSchema(Schema):
    """A reading that sizes a part: the instrument, how it is taken, what misleads."""

    name = Text(longest=40, required=True, metadata={"pattern": _NAME_PATTERN})
    title = Text(empty_allowed=True, load_default="")
    instrument = Text(empty_allowed=True, load_default="")
    how = Text(longest=500, empty_allowed=True, load_default="")
    traps = _texts(load_default=list)


class TemplateTestSchema(Schema):
    """A test of the repaired pen, and what passes."""

    name = Text(longest=40, required=True, metadata={"pattern": _NAME_PATTERN})
    how = Text(longest=500, required=True)
    passes = Text(longest=500, required=True)
    at_least = FigureField(load_default=None, allow_none=True)
    at_most = FigureField(load_default=None, allow_none=True)
    unit = Text(longest=40, empty_allowed=True, load_default="")
    expected = Text(
        longest=60,
        empty_allowed=True,
        load_default="",
        metadata={"description": "the answer's member whose low end this very pen should reach"},
    )


class TemplateStepSchema(Schema):
    """One step of the repair: cautions go by its name and by what is put on the pen."""

    name = Text(longest=40, required=True)
    substance = Text(longest=60, load_default=None, allow_none=True)
    note = Text(longest=500, empty_allowed=True, load_default="")


class NewFillingSystemSchema(Schema):
    """A filling system of the workshop's own: the whole document."""

    name = Text(longest=40, required=True, metadata={"pattern": _NAME_PATTERN})
    title = Text(required=True)
    needs = _items(TemplateNeedSchema, MOST_NEEDS, 1, required=True)
    readings = _items(HowToReadSchema, load_default=list)
    consumables = _texts(longest=100, load_default=list)
    steps = _items(TemplateStepSchema, load_default=list)
    sources = _texts(load_default=list)
    notes = _texts(load_default=list)
    given = given_map(load_default=dict)
    tests = _items(TemplateTestSchema, load_default=list)


class ChangedFillingSystemSchema(Schema):
    """What may be changed of an own system: any member as a whole, and whether it is retired."""

    title = Text()
    needs = _items(TemplateNeedSchema, MOST_NEEDS, 1)
    readings = _items(HowToReadSchema)
    consumables = _texts(longest=100)
    steps = _items(TemplateStepSchema)
    sources = _texts()
    notes = _texts()
    given = given_map()
    tests = _items(TemplateTestSchema)
    retired = Flag()


class FillingSystemSchema(ShownSchema):
    """The template of a repair; one that is retired is not offered for new pens."""

    name = fields.String(required=True, attribute="system.name")
    title = fields.String(required=True, attribute="system.title")
    origin = fields.String(required=True, validate=validate.OneOf(["shipped", "own"]))
    needs = fields.List(fields.Nested(TemplateNeedSchema), required=True, attribute="system.needs")
    readings = fields.List(fields.Nested(HowToReadSchema), required=True)
    consumables = fields.List(fields.String(), required=True, attribute="system.consumables")
    steps = fields.List(fields.Nested(TemplateStepSchema), required=True, attribute="system.steps")
    sources = fields.List(fields.String(), required=True, attribute="system.sources")
    notes = fields.List(fields.String(), required=True, attribute="system.notes")
    given = fields.Dict(required=True, attribute="system.given")
    tests = fields.List(fields.Nested(TemplateTestSchema), required=True, attribute="system.tests")
    retired = fields.Boolean(required=True)
    retired_at = Moment(required=True)
    actor = fields.String(required=True, allow_none=True)
    person = fields.String(required=True, allow_none=True)
    changed_at = Moment(required=True)


FillingSystemPageSchema = page_schema("filling_systems", FillingSystemSchema)
