"""Checked inputs of a calculator, read as the host reads a request, and its answers to them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from sparewell.extend.values import ReadValue, read_value
from sparewell.plugin import Answer, Calculator, Field, FieldType, Inputs, parse_length

TODAY = date(2026, 11, 25)
InputsOf = Callable[..., Inputs]
AnswerOf = Callable[..., Answer]


def inputs_builder(calculator: Calculator) -> InputsOf:
    """Return a builder of the calculator's inputs; a whole number of a length is millimetres."""
    return _builder(calculator, read_value)


def exact_inputs_builder(calculator: Calculator) -> InputsOf:
    """Return the same, but that a whole number of a length is nanometres, within no bounds."""
    return _builder(calculator, _read_exactly)


def _builder(calculator: Calculator, read: Callable[[Field, Any], ReadValue]) -> InputsOf:
    fields = {field.name: field for field in calculator.inputs}
    defaults: dict[str, Any] = {setting.name: setting.default for setting in calculator.settings}
    defaults["stock.ageing_scheme"] = "workshop"

    def build(
        *,
        today: date = TODAY,
        spreads: Mapping[str, str] | None = None,
        changed_settings: Mapping[str, Any] | None = None,
        **values: Any,
    ) -> Inputs:
        found = {name: read(fields[name], raw) for name, raw in values.items()}
        noted = {name: one.spread for name, one in found.items() if one.spread is not None}
        given = {name: parse_length(spread) for name, spread in (spreads or {}).items()}
        return Inputs(
            {name: one.value for name, one in found.items()},
            spreads={**noted, **given},
            settings={**defaults, **(changed_settings or {})},
            today=today,
        )

    return build


def _read_exactly(field: Field, raw: Any) -> ReadValue:
    if field.type is FieldType.LENGTH and isinstance(raw, int):
        return ReadValue(raw, "")
    if field.type is FieldType.GROUP:
        members = {member.name: member for member in field.members}
        read = {name: _read_exactly(members[name], one).value for name, one in raw.items()}
        return ReadValue(read, "")
    return read_value(field, raw)


def answers_of(calculator: Calculator) -> AnswerOf:
    """Return what gives the calculator's answer to values."""
    build = inputs_builder(calculator)
    return lambda **values: calculator.compute(build(**values))
