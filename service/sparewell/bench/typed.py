"""What was typed into a form, and what was said against it: kept together, so nothing is lost."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from sparewell.edge.errors import status_of
from sparewell.edge.fields import NUMBER_PATTERN
from sparewell.errors import Problem, Refusal

_OK, _UNPROCESSABLE = 200, 422
_MOST_DIGITS = 18


@dataclass(frozen=True)
class Typed:
    """A form as it was filled in, with each refusal at its field."""

    values: Mapping[str, str]
    faults: Mapping[str, str] = field(default_factory=dict)
    problem: str = ""
    problems: Sequence[Problem] = ()
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

    def emptied(self, *names: str) -> dict[str, Any]:
        """Return the fields of the form that were left empty, as what takes away what was there."""
        return {name: None for name in names if self.values.get(name) == ""}

    def whole(self, *names: str) -> dict[str, int | str]:
        """Return the fields that were not left empty, as whole numbers where they are such."""
        return {name: whole_or_text(self[name]) for name in names if self[name]}

    def of(self, prefix: str) -> dict[str, str]:
        """Return what was typed into the fields whose names begin so, without that beginning."""
        return {
            name.removeprefix(prefix): text
            for name, text in self.values.items()
            if name.startswith(prefix) and text
        }

    def with_faults(self, faults: Mapping[str, str], status: int, problem: str = "") -> Typed:
        """Return the form with what a page itself says against it."""
        return replace(self, faults=faults, status=status, problem=problem)

    def refused(self, refusal: Refusal, faults: Mapping[str, str]) -> Typed:
        """Return the form with a refusal, and what it says of each field.

        One wrong value is told at its field alone; what the present state forbids is said on top.
        """
        status = status_of(refusal)
        is_located = status == _UNPROCESSABLE and any(name in self.values for name in faults)
        return replace(
            self,
            faults=faults,
            problem="" if is_located and len(refusal.problems) == 1 else refusal.detail,
            problems=refusal.problems,
            status=status,
        )


def by_field(refusal: Refusal) -> dict[str, str]:
    """Return what was said of each member of what was sent, by its path and by its first step."""
    found: dict[str, str] = {}
    for problem in refusal.problems:
        path = problem.pointer.lstrip("/")
        found.setdefault(path, problem.detail)
        found.setdefault(path.split("/")[0], problem.detail)
    return found


def is_number(text: str) -> bool:
    """Whether a text could be the number or the code of anything."""
    return re.fullmatch(NUMBER_PATTERN, text) is not None


def comma_separated(text: str) -> list[str]:
    """Return what stands between commas, without what is empty."""
    return [each.strip() for each in text.split(",") if each.strip()]


def tag_of(*shown: object) -> str:
    """Return what tells whether something still is as a page showed it."""
    return hashlib.sha256(repr(shown).encode()).hexdigest()[:32]


def whole_or_text(typed: str) -> int | str:
    """Return a whole number where one was typed; what is wrong with anything else is said later."""
    is_whole = typed.isascii() and typed.isdecimal() and len(typed) <= _MOST_DIGITS
    return int(typed) if is_whole else typed


def row_of(typed: str) -> int:
    """Return the id of a row, as an address or a form names it; nought for what is none."""
    found = whole_or_text(typed)
    return found if isinstance(found, int) else 0


def number_or_text(typed: str) -> Decimal | int | str:
    """Return a number where one was typed, with a comma too; anything else is refused later."""
    try:
        number = Decimal(typed.replace(",", "."))
    except InvalidOperation:
        return typed
    whole = whole_or_text(typed)
    return whole if isinstance(whole, int) or not number.is_finite() else number
