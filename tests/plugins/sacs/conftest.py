"""What the tests of the sac plugin share: a builder of checked inputs, as the host would make."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from sparewell.plugin import FieldType, Inputs, parse_length
from sparewell_sacs.inputs import INPUTS
from sparewell_sacs.settings import SETTINGS

InputsOf = Callable[..., Inputs]

_FIELDS = {field.name: field for field in INPUTS}


def build_inputs(
    *,
    spreads: Mapping[str, str] | None = None,
    changed_settings: Mapping[str, Any] | None = None,
    **values: Any,
) -> Inputs:
    """Return inputs from lengths as they are written; integers are nanometres already."""
    checked = {}
    for name, value in values.items():
        field = _FIELDS[name]
        if field.type is FieldType.LENGTH and not isinstance(value, int):
            checked[name] = parse_length(value, zero_allowed=field.zero_allowed)
        else:
            checked[name] = value
    settings = {setting.name: setting.default for setting in SETTINGS}
    return Inputs(
        checked,
        spreads={name: parse_length(spread) for name, spread in (spreads or {}).items()},
        settings={**settings, **(changed_settings or {})},
    )


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return build_inputs


@pytest.fixture(scope="session")
def sample() -> Mapping[str, str]:
    """Return the readings of the usual lever pen."""
    return {
        "barrel_bore": "8.0 mm",
        "bar_height": "0.9 mm",
        "nipple_diameter": "6.4 mm",
        "barrel_depth": "62 mm",
    }
