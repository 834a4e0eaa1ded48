"""What the tests of the gasket plugin share: a builder of inputs, checked as the host would."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from sparewell.plugin import FieldType, Inputs, parse_length
from sparewell_gaskets.inputs import INPUTS
from sparewell_gaskets.settings import SETTINGS

InputsOf = Callable[..., Inputs]

_FIELDS = {field.name: field for field in INPUTS}


def build_inputs(*, changed_settings: Mapping[str, Any] | None = None, **values: Any) -> Inputs:
    """Return inputs from lengths as they are written; integers are nanometres already."""
    checked = {}
    for name, value in values.items():
        field = _FIELDS[name]
        if field.type is FieldType.LENGTH and not isinstance(value, int):
            checked[name] = parse_length(value, zero_allowed=field.zero_allowed)
        else:
            checked[name] = value
    settings = {setting.name: setting.default for setting in SETTINGS}
    return Inputs(checked, spreads={}, settings={**settings, **(changed_settings or {})})


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return build_inputs
