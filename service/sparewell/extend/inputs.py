"""What a calculation is handed: the checked inputs of a request, and the workshop's settings.

Both are mappings by name. Their getters return a value as its field or setting declares it, so
that nobody who reads one has to look at its type.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import wraps
from typing import Any, TypeVar

from sparewell.extend.fields import Plain, Value

WorkedOut = TypeVar("WorkedOut")


class SettingValues(Mapping[str, Value | None]):
    """The present value of every setting; `read` holds those that were looked at.

    A getter raises TypeError for a setting of another type, and where the value is null.
    """

    def __init__(self, values: Mapping[str, Value | None]) -> None:
        self._values = values
        self._numbers: dict[str, Fraction] = {}
        self.read: dict[str, Value | None] = {}

    def __getitem__(self, name: str) -> Value | None:
        value = self.read[name] = self._values[name]
        return value

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def length(self, name: str) -> int:
        """Return a length in nanometres."""
        return _whole(self[name], f"setting {name} is not a length")

    def lengths(self, name: str) -> tuple[int, ...]:
        """Return a list of lengths in nanometres."""
        value = self[name]
        if not isinstance(value, tuple):
            raise TypeError(f"setting {name} is not a list of lengths")
        return value

    def number(self, name: str) -> Fraction:
        """Return a number exactly; a share in percent is one."""
        if name not in self._numbers:
            self._numbers[name] = _exact(self[name], f"setting {name} is not a number")
        return self._numbers[name]

    def count(self, name: str) -> int:
        """Return a number of whole things."""
        return _whole(self[name], f"setting {name} is not a count")

    def flag(self, name: str) -> bool:
        """Return whether a setting is on."""
        value = self[name]
        if not isinstance(value, bool):
            raise TypeError(f"setting {name} is not true or false")
        return value

    def text(self, name: str) -> str:
        """Return a choice or a text."""
        value = self[name]
        if not isinstance(value, str):
            raise TypeError(f"setting {name} is not a text")
        return value


class Inputs(Mapping[str, Value]):
    """The checked inputs of one calculation, and the settings, of which it notes each one read."""

    def __init__(
        self,
        values: Mapping[str, Value],
        *,
        spreads: Mapping[str, int],
        settings: Mapping[str, Value | None],
        today: date | None = None,
    ) -> None:
        self._settings = SettingValues(settings)
        self._values = dict(values)
        self._spreads = dict(spreads)
        self._today = today
        self._worked_out: dict[Callable[[Inputs], Any], Any] = {}

    def __getitem__(self, name: str) -> Value:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def length(self, name: str) -> int | None:
        """Return a length in nanometres, or None where it was not given."""
        value = self._values.get(name)
        return None if value is None else _whole(value, f"{name} is not a length")

    def number(self, name: str) -> Fraction | None:
        """Return a number exactly, or None where it was not given."""
        value = self._values.get(name)
        return None if value is None else _exact(value, f"{name} is not a number")

    def group(self, name: str) -> Mapping[str, Plain]:
        """Return the members of a group that were given; nothing where it was left out."""
        value = self._values.get(name, {})
        if not isinstance(value, Mapping):
            raise TypeError(f"{name} is not a group")
        return value

    @property
    def today(self) -> date:
        """The day on which the question is asked."""
        if self._today is None:
            raise TypeError("no day was handed in")
        return self._today

    def text(self, name: str) -> str | None:
        """Return a choice or a text, or None where it was not given."""
        value = self._values.get(name)
        return None if value is None else str(value)

    def spread(self, name: str) -> int | None:
        """Return the spread of a reading in nanometres, where one was noted."""
        return self._spreads.get(name)

    def changed(self, **values: Value) -> Inputs:
        """Return a copy with some values replaced; it shares the note of settings read."""
        copy = Inputs({**self._values, **values}, spreads=self._spreads, settings={})
        copy._settings, copy._today = self._settings, self._today
        return copy

    def worked_out(self, rule: Callable[[Inputs], WorkedOut]) -> WorkedOut:
        """Return what a rule makes of these inputs; it is followed the first time only."""
        if rule not in self._worked_out:
            self._worked_out[rule] = rule(self)
        found: WorkedOut = self._worked_out[rule]
        return found

    def setting(self, name: str) -> Value | None:
        """Return a setting's present value; from here on it is noted among `settings_read`."""
        return self._settings[name]

    def setting_length(self, name: str) -> int:
        """Return a setting that is a length, in nanometres."""
        return self._settings.length(name)

    def setting_lengths(self, name: str) -> tuple[int, ...]:
        """Return a setting that is a list of lengths, in nanometres."""
        return self._settings.lengths(name)

    def setting_number(self, name: str) -> Fraction:
        """Return a setting that is a number or a share in percent, exactly."""
        return self._settings.number(name)

    def setting_count(self, name: str) -> int:
        """Return a setting that counts whole things."""
        return self._settings.count(name)

    def setting_flag(self, name: str) -> bool:
        """Return whether a setting is on."""
        return self._settings.flag(name)

    def setting_text(self, name: str) -> str:
        """Return a setting that is a choice or a text."""
        return self._settings.text(name)

    @property
    def settings_read(self) -> Mapping[str, Value | None]:
        """Every setting read so far, with the value used."""
        return self._settings.read


def worked_out_once(rule: Callable[[Inputs], WorkedOut]) -> Callable[[Inputs], WorkedOut]:
    """Let what follows from the inputs alone be worked out once, however many pieces are judged."""

    @wraps(rule)
    def once(inputs: Inputs) -> WorkedOut:
        return inputs.worked_out(rule)

    return once


def _whole(value: Value | None, otherwise: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(otherwise)
    return value


def _exact(value: Value | None, otherwise: str) -> Fraction:
    if not isinstance(value, int | Decimal) or isinstance(value, bool):
        raise TypeError(otherwise)
    return Fraction(value)
