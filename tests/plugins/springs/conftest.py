"""What the tests of the spring plugin share: builders of inputs, checked as the host would."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import Any

import pytest

from sparewell.extend.values import read_value
from sparewell.plugin import Field, FieldType, Inputs, Setting, parse_length
from sparewell_springs.bar_inputs import BAR_INPUTS
from sparewell_springs.inputs import INPUTS
from sparewell_springs.settings import BAR_SETTINGS, SPRING_SETTINGS

InputsOf = Callable[..., Inputs]


def build(
    fields: Sequence[Field],
    declared: Sequence[Setting],
    values: Mapping[str, Any],
    spreads: Mapping[str, str] | None,
    changed_settings: Mapping[str, Any] | None,
) -> Inputs:
    """Return inputs from values as they are written; whole numbers of a length are nanometres."""
    by_name = {field.name: field for field in fields}
    checked = {}
    for name, value in values.items():
        field = by_name[name]
        is_nanometres = field.type is FieldType.LENGTH and isinstance(value, int)
        checked[name] = value if is_nanometres else read_value(field, value).value
    settings = {setting.name: setting.default for setting in declared}
    return Inputs(
        checked,
        spreads={name: parse_length(spread) for name, spread in (spreads or {}).items()},
        settings={**settings, **(changed_settings or {})},
    )


@pytest.fixture(scope="session")
def spring_inputs() -> InputsOf:
    """Return the builder of a spring's inputs."""

    def make(
        *,
        spreads: Mapping[str, str] | None = None,
        changed_settings: Mapping[str, Any] | None = None,
        **values: Any,
    ) -> Inputs:
        return build(INPUTS, SPRING_SETTINGS, values, spreads, changed_settings)

    return make


@pytest.fixture(scope="session")
def bar_inputs() -> InputsOf:
    """Return the builder of a bar's inputs."""

    def make(*, changed_settings: Mapping[str, Any] | None = None, **values: Any) -> Inputs:
        return build(BAR_INPUTS, BAR_SETTINGS, values, None, changed_settings)

    return make


@pytest.fixture(scope="session")
def pen_spring() -> Mapping[str, Any]:
    """Return the readings of a spring as pens have them."""
    return {
        "wire_diameter": "0.5",
        "outside_diameter": "5.0",
        "total_coils": "10",
        "ends": "squared_ground",
        "free_length": "16",
        "material": "music_wire",
    }


@pytest.fixture(scope="session")
def exact() -> Callable[[object], Fraction]:
    """Return the exact value of a number of a result."""
    return lambda number: Fraction(str(number))
