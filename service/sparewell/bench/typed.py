"""What was typed into a form, and what was said against it: kept together, so nothing is lost."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sparewell.bench.asking import Refused

_OK, _UNPROCESSABLE = 200, 422
_MOST_DIGITS = 18


@dataclass(frozen=True)
class Typed:
    """A form as it was filled in, with each refusal at its field."""

    values: Mapping[str, str]
    faults: Mapping[str, str] = field(default_factory=dict)
    problem: str = ""
    errors: Sequence[Mapping[str, Any]] = ()
    status: int = _OK

    def __post_init__(self) -> None:
        trimmed = {name: text.strip() for name, text in self.values.items()}
        object.__setattr__(self, "values", trimmed)

    def __getitem__(self, name: str) -> str:
        """Return what was typed into a field; nothing where there was none."""
        return self.values.get(name, "")

    def fault(self, name: str) -> str:
        """Return what was said against a field."""
        return self.faults.get(name, "")

    def filled(self, *names: str) -> dict[str, Any]:
        """Return the fields that were not left empty."""
        return {name: self[name] for name in names if self[name]}

    def with_faults(self, faults: Mapping[str, str], status: int, problem: str = "") -> Typed:
        """Return the form with what a page itself says against it."""
        return replace(self, faults=faults, status=status, problem=problem)

    def refused(self, refusal: Refused, located: Mapping[str, str] | None = None) -> Typed:
        """Return the form with a refusal of the API, whose place is found by the field's name.

        One wrong value is told at its field alone; what the present state forbids is said on top.
        """
        faults = dict(refusal.by_field() if located is None else located)
        is_located = refusal.status == _UNPROCESSABLE and any(
            name in self.values for name in faults
        )
        return replace(
            self,
            faults=faults,
            problem="" if is_located and len(refusal.errors) == 1 else refusal.detail,
            errors=refusal.errors,
            status=refusal.status,
        )


def whole_or_text(typed: str) -> int | str:
    """Return a whole number where one was typed; the API says what is wrong with anything else."""
    is_whole = typed.isascii() and typed.isdecimal() and len(typed) <= _MOST_DIGITS
    return int(typed) if is_whole else typed


def number_or_text(typed: str) -> int | float | str:
    """Return a number where one was typed, with a comma too; anything else is left to the API."""
    try:
        number = float(typed.replace(",", "."))
    except ValueError:
        return typed
    whole = whole_or_text(typed)
    return whole if isinstance(whole, int) or not math.isfinite(number) else number
