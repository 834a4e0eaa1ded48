"""What the tests of the O-ring plugin share: a builder of inputs as the host would check them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from sparewell.plugin import Calculator, FieldType, Inputs, parse_length
from sparewell_o_rings.calculator import O_RING_CALCULATOR
from sparewell_o_rings.identity import RING_IDENTITY_CALCULATOR

InputsOf = Callable[..., Inputs]


def build_inputs(
    calculator: Calculator,
    *,
    spreads: Mapping[str, str] | None = None,
    changed_settings: Mapping[str, Any] | None = None,
    **values: Any,
) -> Inputs:
    """Return inputs from lengths as they are written; integers are nanometres already."""
    types = {field.name: field.type for field in calculator.inputs}
    checked = {name: _value(types[name], value) for name, value in values.items()}
    settings = {setting.name: setting.default for setting in calculator.settings}
    return Inputs(
        checked,
        spreads={name: parse_length(spread) for name, spread in (spreads or {}).items()},
        settings={**settings, **(changed_settings or {})},
    )


def _value(kind: FieldType, value: Any) -> Any:
    """Return one value as the host reads it."""
    if kind is FieldType.GROUP:
        return {name: _value(FieldType.LENGTH, member) for name, member in value.items()}
    if kind is FieldType.LENGTH and not isinstance(value, int):
        return parse_length(value, zero_allowed=True)
    return value


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs of `o_ring`."""

    def build(**values: Any) -> Inputs:
        return build_inputs(O_RING_CALCULATOR, **values)

    return build


@pytest.fixture(scope="session")
def identity_of() -> Callable[..., Sequence[Mapping[str, Any]]]:
    """Return a function that asks `ring_identity` and returns its sizes."""

    def ask(**values: Any) -> Sequence[Mapping[str, Any]]:
        inputs = build_inputs(RING_IDENTITY_CALCULATOR, **values)
        return RING_IDENTITY_CALCULATOR.compute(inputs).result["sizes"]

    return ask


@pytest.fixture(scope="session")
def result_of(inputs_of: InputsOf) -> Callable[..., Mapping[str, Any]]:
    """Return a function that asks `o_ring` and returns its result."""

    def ask(**values: Any) -> Mapping[str, Any]:
        return O_RING_CALCULATOR.compute(inputs_of(**values)).result

    return ask


@pytest.fixture(scope="session")
def piston() -> Mapping[str, str]:
    """Return a piston at rest in a bore of 7.6 mm, with a groove of 4.6 mm."""
    return {
        "gland": "piston",
        "bore": "7.6",
        "groove_diameter": "4.6",
        "groove_width": "2.4",
        "duty": "static",
    }
