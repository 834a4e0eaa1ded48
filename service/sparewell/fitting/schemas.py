"""What calculators and fits look like in JSON: partly fixed, partly made from declarations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.edge.description import ShownSchema
from sparewell.edge.fields import TEXT_PATTERN, Text, length_schema
from sparewell.edge.paging import page_schema
from sparewell.edge.schema import Schema
from sparewell.extend.declarations import Calculator
from sparewell.extend.fields import Field, FieldType, Output, OutputType
from sparewell.extend.values import (
    LONGEST_INSTRUMENT,
    LONGEST_TEXT,
    MOST_LENGTHS,
    ReadValue,
    ValueRefused,
    read_value,
)
from sparewell.fitting.operations import DEFAULT_LIMIT, HIGHEST_LIMIT
from sparewell.measure.length import NANOMETRES_PER_MILLIMETRE, millimetres

_JSON_TYPE = {
    FieldType.NUMBER: ["number", "string"],
    FieldType.INTEGER: "integer",
    FieldType.CHOICE: "string",
    FieldType.FLAG: "boolean",
    FieldType.TEXT: "string",
    FieldType.LENGTHS: ["array", "string"],
    FieldType.GROUP: "object",
}


class DeclaredInput(fields.Field[Any]):
    """One input of a calculator, read as its plugin declared it."""

    def __init__(self, declared: Field, **options: Any) -> None:
        self.declared = declared
        metadata: dict[str, Any] = dict(json_schema_of(declared))
        super().__init__(required=declared.required, metadata=metadata, **options)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> ReadValue:
        try:
            return read_value(self.declared, value)
        except ValueRefused as error:
            raise ma.ValidationError(str(error)) from error


def json_schema_of(declared: Field) -> Mapping[str, Any]:
    """Return the JSON schema of one input."""
    plain = _json_schema_of_value(declared)
    if declared.members:
        plain |= {
            "properties": {member.name: json_schema_of(member) for member in declared.members},
            "required": [member.name for member in declared.members if member.required],
            "additionalProperties": False,
        }
    description = ". ".join(text for text in (declared.title, declared.help, declared.how) if text)
    if not declared.measured:
        return {**plain, "description": description}
    measured: dict[str, Any] = {
        "type": "object",
        "required": ["value"],
        "additionalProperties": False,
        "properties": {"value": plain, "instrument": _text_schema(LONGEST_INSTRUMENT)},
    }
    if declared.type is FieldType.LENGTH:
        measured["properties"]["spread"] = length_schema(zero_allowed=True)
    return {"description": description, "oneOf": [plain, measured]}


def _json_schema_of_value(declared: Field) -> dict[str, Any]:
    """Return the JSON schema of the value alone, without what may be said of its reading."""
    match declared.type:
        case FieldType.LENGTH:
            plain = length_schema(zero_allowed=declared.zero_allowed)
        case FieldType.TEXT:
            plain = _text_schema(LONGEST_TEXT)
        case FieldType.LENGTHS:
            plain = {
                "type": ["array", "string"],
                "items": length_schema(),
                "maxItems": MOST_LENGTHS,
            }
        case _:
            plain = {"type": _JSON_TYPE[declared.type]}
    if declared.choices:
        plain["enum"] = list(declared.choices)
    one = NANOMETRES_PER_MILLIMETRE if declared.type is FieldType.LENGTH else 1
    for name, bound in (("minimum", declared.minimum), ("maximum", declared.maximum)):
        if bound is not None:
            plain[name] = float(bound / one)
    return plain


def _text_schema(longest: int) -> dict[str, Any]:
    return {"type": "string", "minLength": 1, "maxLength": longest, "pattern": TEXT_PATTERN}


def inputs_schema(calculator: Calculator) -> type[Schema]:
    """Return the schema of a calculator's request."""
    members = {declared.name: DeclaredInput(declared) for declared in calculator.inputs}
    return _schema(f"{_camel(calculator.name)}InputSchema", members)


def fit_schema(calculator: Calculator) -> type[Schema]:
    """Return the schema of a request for pieces in hand: the same, with what to choose from."""
    members: dict[str, Any] = {
        declared.name: DeclaredInput(declared) for declared in calculator.inputs
    }
    members["materials"] = fields.List(
        Text(longest=60),
        load_default=list,
        validate=validate.Length(max=20),
        metadata={
            "description": "only pieces of these materials; one that no such piece is made of "
            "(celluloid, in a fit of sacs) is what the pen is made of"
        },
    )
    members["pen_materials"] = fields.List(
        Text(longest=60),
        load_default=list,
        validate=validate.Length(max=20),
        metadata={
            "description": "what the pen is made of; what is not said counts as the worst case"
        },
    )
    members["limit"] = fields.Integer(
        strict=True,
        load_default=DEFAULT_LIMIT,
        validate=validate.Range(1, HIGHEST_LIMIT),
        metadata={"description": "at most so many candidates"},
    )
    return _schema(f"{_camel(calculator.name)}FitInputSchema", members)


def result_schema(calculator: Calculator) -> type[Schema]:
    """Return the schema of a calculator's result."""
    return _group(f"{_camel(calculator.name)}ResultSchema", calculator.outputs)


def _group(name: str, outputs: Iterable[Output]) -> type[Schema]:
    return _schema(name, {output.name: _output(name, output) for output in outputs})


def _output(owner: str, output: Output) -> fields.Field[Any]:
    options: dict[str, Any] = {
        "required": True,
        "allow_none": output.nullable,
        "metadata": {"description": output.help},
    }
    one: dict[str, Any] = {} if output.many else options
    inner: fields.Field[Any]
    match output.type:
        case OutputType.GROUP:
            name = f"{owner.removesuffix('Schema')}{_camel(output.name)}Schema"
            inner = fields.Nested(_group(name, output.members), **one)
        case OutputType.TEXT:
            allowed = validate.OneOf(output.choices) if output.choices else None
            inner = fields.String(**one, validate=allowed)
        case OutputType.INTEGER:
            inner = fields.Integer(**one)
        case OutputType.FLAG:
            inner = fields.Boolean(**one)
        case OutputType.LENGTH | OutputType.NUMBER:
            inner = fields.Raw(
                **{
                    **one,
                    "metadata": {
                        "type": "number",
                        "description": output.help
                        + (" (mm)" if output.type is OutputType.LENGTH else ""),
                    },
                }
            )
    return fields.List(inner, **options) if output.many else inner


def _schema(name: str, members: Mapping[str, Any]) -> type[Schema]:
    return type(name, (Schema,), dict(members))


def _camel(name: str) -> str:
    return "".join(word.capitalize() for word in name.split("_"))


class SettingUsedSchema(Schema):
    """One setting that an answer rests on."""

    name = fields.String(required=True)
    value = fields.Raw(
        required=True, metadata={"type": ["number", "string", "boolean", "array", "null"]}
    )
    unit = fields.String(required=True)
    source = fields.String(required=True)


class AnswerSchema(Schema):
    """What every calculator answers beside its result."""

    calculator = fields.String(required=True)
    result = fields.Dict(required=True)
    warnings = fields.List(fields.String(), required=True)
    cautions = fields.List(fields.String(), required=True)
    settings = fields.List(fields.Nested(SettingUsedSchema), required=True)
    sources = fields.List(fields.String(), required=True)
    drawing = fields.String(
        required=True, allow_none=True, metadata={"description": "SVG, to scale"}
    )


class _Margins(fields.Dict):
    """How much room there is, by name: lengths are millimetres, all else is a plain number."""

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> Any:
        shown = {
            name: float(each) if isinstance(each, Decimal) else millimetres(each)
            for name, each in value.items()
        }
        return super()._serialize(shown, attr, obj, **options)  # type: ignore[no-untyped-call]


class CandidateSchema(ShownSchema):
    """A piece in hand that would do."""

    lot = fields.Integer(required=True, attribute="lot.id")
    part = fields.String(required=True, attribute="lot.part.number", allow_none=True)
    kind = fields.String(required=True, attribute="lot.kind")
    place = fields.String(required=True, attribute="lot.place.code")
    available = fields.Integer(required=True, attribute="lot.available")
    material = fields.String(required=True, attribute="lot.material", allow_none=True)
    basis = fields.String(required=True, validate=validate.OneOf(["measured", "nominal"]))
    verdict = fields.String(
        required=True,
        attribute="verdict.value",
        validate=validate.OneOf(["fits", "tight", "loose", "try_in"]),
    )
    margins = _Margins(
        keys=fields.String(), values=fields.Raw(metadata={"type": "number"}), required=True
    )
    why = fields.String(required=True)
    fit_by = fields.Date(required=True, attribute="fit_by.day", allow_none=True)


class RefusedSchema(ShownSchema):
    """A piece in hand that would not do, and why."""

    lot = fields.Integer(required=True, attribute="lot.id")
    part = fields.String(required=True, attribute="lot.part.number", allow_none=True)
    place = fields.String(required=True, attribute="lot.place.code")
    why = fields.String(required=True)
    job = fields.String(required=True, allow_none=True)


class PurchaseSchema(Schema):
    """What to ask a seller for."""

    ask_for = fields.String(required=True)
    check_on_arrival = fields.String(required=True)


class FoundSchema(Schema):
    """The pieces in hand, beside the answer."""

    candidates = fields.List(fields.Nested(CandidateSchema), required=True)
    refused = fields.List(fields.Nested(RefusedSchema), required=True)
    refused_ends_early = fields.Boolean(
        required=True,
        metadata={
            "description": "whether pieces further from the ideal were not asked why they would "
            "not do: a thousand larger and a thousand smaller ones are looked at"
        },
    )
    to_buy = fields.List(fields.Nested(PurchaseSchema), required=True)


def answer_schema(calculator: Calculator) -> type[Schema]:
    """Return the schema of a calculator's answer."""
    members = {"result": fields.Nested(result_schema(calculator), required=True)}
    return type(f"{_camel(calculator.name)}AnswerSchema", (AnswerSchema,), members)


def fit_answer_schema(calculator: Calculator, answer: type[Schema]) -> type[Schema]:
    """Return the schema of a fit: the answer and the pieces."""
    return type(f"{_camel(calculator.name)}FitSchema", (FoundSchema, answer), {})


class InputSchema(Schema):
    """One input, as a form or a command needs to know it."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    type = fields.String(required=True)
    help = fields.String(required=True)
    how = fields.String(required=True)
    required = fields.Boolean(required=True)
    measured = fields.Boolean(required=True)
    choices = fields.List(fields.String(), required=True)
    members = fields.List(fields.Nested(lambda: InputSchema), required=True)


class OutputSchema(Schema):
    """One member of a result, as a page needs to know it. Lengths are millimetres."""

    name = fields.String(required=True)
    type = fields.String(required=True)
    help = fields.String(required=True)
    many = fields.Boolean(required=True)
    members = fields.List(fields.Nested(lambda: OutputSchema), required=True)


class CalculatorSchema(ShownSchema):
    """A calculator, and how to ask it."""

    name = fields.String(required=True)
    title = fields.String(required=True)
    help = fields.String(required=True)
    plugin = fields.String(required=True)
    kind = fields.String(required=True, allow_none=True)
    fits_pieces = fields.Boolean(required=True)
    inputs = fields.List(fields.Nested(InputSchema), required=True)
    outputs = fields.List(fields.Nested(OutputSchema), required=True)
    headline = fields.List(
        fields.String(),
        required=True,
        metadata={"description": "the outputs that are the answer in short"},
    )
    asks_first = fields.List(
        fields.String(), required=True, metadata={"description": "the inputs to ask for first"}
    )
    settings = fields.List(fields.String(), required=True)
    sources = fields.List(fields.String(), required=True)


CalculatorPageSchema = page_schema("calculators", CalculatorSchema)
