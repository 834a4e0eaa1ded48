"""What the tests of the nib plugin share: checked inputs, read as the host reads a request."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import pytest

from sparewell.extend.values import read_value
from sparewell.plugin import Answer, Inputs
from sparewell_nibs.calculator import LINE_WIDTH_CALCULATOR

TODAY = date(2026, 11, 25)
InputsOf = Callable[..., Inputs]
AnswerOf = Callable[..., Answer]

_FIELDS = {field.name: field for field in LINE_WIDTH_CALCULATOR.inputs}


def build_inputs(
    *, today: date = TODAY, changed_settings: Mapping[str, Any] | None = None, **values: Any
) -> Inputs:
    """Return inputs as the host makes them of what a request carries."""
    read = {name: read_value(_FIELDS[name], raw) for name, raw in values.items()}
    settings: dict[str, Any] = {
        setting.name: setting.default for setting in LINE_WIDTH_CALCULATOR.settings
    }
    settings["stock.ageing_scheme"] = "workshop"
    return Inputs(
        {name: one.value for name, one in read.items()},
        spreads={name: one.spread for name, one in read.items() if one.spread is not None},
        settings={**settings, **(changed_settings or {})},
        today=today,
    )


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return build_inputs


@pytest.fixture(scope="session")
def answer_of() -> AnswerOf:
    """Return what the calculator answers to such inputs."""
    return lambda **values: LINE_WIDTH_CALCULATOR.compute(build_inputs(**values))
