"""Checked inputs of a calculator, read as the host reads a request, and its answers to them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from sparewell.extend.values import read_value
from sparewell.plugin import Answer, Calculator, Inputs

TODAY = date(2026, 11, 25)
InputsOf = Callable[..., Inputs]
AnswerOf = Callable[..., Answer]


def inputs_builder(calculator: Calculator) -> InputsOf:
    """Return a builder of the calculator's inputs."""
    fields = {field.name: field for field in calculator.inputs}

    def build(
        *, today: date = TODAY, changed_settings: Mapping[str, Any] | None = None, **values: Any
    ) -> Inputs:
        read = {name: read_value(fields[name], raw) for name, raw in values.items()}
        settings: dict[str, Any] = {
            setting.name: setting.default for setting in calculator.settings
        }
        settings["stock.ageing_scheme"] = "workshop"
        return Inputs(
            {name: one.value for name, one in read.items()},
            spreads={name: one.spread for name, one in read.items() if one.spread is not None},
            settings={**settings, **(changed_settings or {})},
            today=today,
        )

    return build


def answers_of(calculator: Calculator) -> AnswerOf:
    """Return what gives the calculator's answer to values."""
    build = inputs_builder(calculator)
    return lambda **values: calculator.compute(build(**values))
