"""How a plugin describes values: what a calculator takes, what it answers, what a setting holds.

One description serves the JSON schema of the endpoint, the options of the command, the form of the
bench page and the plan of a job. Lengths are whole nanometres on the Python side and millimetres
(or any spelling of :func:`sparewell.measure.length.parse_length`) outside.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

Plain = int | Decimal | str | bool
Value = Plain | tuple[int, ...] | Mapping[str, Plain]

HIGHEST_NUMBER: Final = 10**9


class FieldType(StrEnum):
    """What a value is, outside and inside."""

    LENGTH = "length"  # whole nanometres (int)
    NUMBER = "number"  # Decimal
    INTEGER = "integer"  # int
    CHOICE = "choice"  # one of `choices` (str)
    FLAG = "flag"  # bool
    TEXT = "text"  # str
    LENGTHS = "lengths"  # a tuple of whole nanometres; outside a list, or a text with semicolons
    GROUP = "group"  # a mapping of its `members` that were given


@dataclass(frozen=True)
class Field:
    """One input of a calculator.

    `minimum` and `maximum` are the bounds of the possible, in nanometres for a length: outside
    them the request is refused. `plausible` are the bounds of the usual: outside them the answer
    carries a warning. `zero_allowed` admits a length of nothing.
    `measured` is true for what is read off a pen, and so may stand among its readings.
    `how` tells the bench how to take the reading. `narrower_than` names readings of the same
    pen that are wider than this one, so that two noted the wrong way round can be told.
    """

    name: str
    title: str
    type: FieldType = FieldType.LENGTH
    help: str = ""
    required: bool = False
    measured: bool = False
    how: str = ""
    choices: tuple[str, ...] = ()
    minimum: int | Decimal | None = None
    maximum: int | Decimal | None = None
    plausible: tuple[int, int] | None = None
    zero_allowed: bool = False
    members: tuple[Field, ...] = ()
    narrower_than: tuple[str, ...] = ()


class OutputType(StrEnum):
    """What a member of a result is."""

    LENGTH = "length"  # nanometres inside, millimetres outside
    NUMBER = "number"
    INTEGER = "integer"
    TEXT = "text"
    FLAG = "flag"
    GROUP = "group"  # an object with `members`


@dataclass(frozen=True)
class Output:
    """One member of a calculator's result; `many` makes it a list, `nullable` admits null."""

    name: str
    type: OutputType
    help: str = ""
    many: bool = False
    nullable: bool = False
    choices: tuple[str, ...] = ()
    members: tuple[Output, ...] = ()


@dataclass(frozen=True)
class Setting:
    """A number of the trade that a workshop may change.

    `name` starts with the name of what uses it (`sac.end_gap`). `default` is a length in
    nanometres, a Decimal, an int, a bool or a choice, as `type` says; None only where `nullable`.
    `source` names the publication, or says "common practice, no source".
    """

    name: str
    title: str
    type: FieldType
    default: Value | None
    source: str
    unit: str = ""
    help: str = ""
    choices: tuple[str, ...] = ()
    minimum: int | Decimal | None = None
    maximum: int | Decimal | None = None
    nullable: bool = False


class Inputs(Mapping[str, Value]):
    """The checked inputs of one calculation, and the settings, of which it notes each one read.

    Mapping access gives the raw values; the typed getters below spare the casts.
    """

    def __init__(
        self,
        values: Mapping[str, Value],
        *,
        spreads: Mapping[str, int],
        settings: Mapping[str, Value | None],
        today: date | None = None,
    ) -> None:
        self._values = dict(values)
        self._spreads = dict(spreads)
        self._settings = settings
        self._today = today
        self._settings_read: dict[str, Value | None] = {}

    def __getitem__(self, name: str) -> Value:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def length(self, name: str) -> int | None:
        """Return a length in nanometres, or None where it was not given."""
        value = self._values.get(name)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool):
            raise TypeError(f"{name} is not a length")
        return value

    def number(self, name: str) -> Fraction | None:
        """Return a number exactly, or None where it was not given."""
        value = self._values.get(name)
        if value is None:
            return None
        return _fraction(name, value)

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
        copy = Inputs(
            {**self._values, **values},
            spreads=self._spreads,
            settings=self._settings,
            today=self._today,
        )
        copy._settings_read = self._settings_read
        return copy

    def setting(self, name: str) -> Value | None:
        """Return a setting's present value and note that the answer rests on it."""
        value = self._settings[name]
        self._settings_read[name] = value
        return value

    def setting_length(self, name: str) -> int:
        """Return a setting that is a length, in nanometres."""
        value = self.setting(name)
        if not isinstance(value, int) or isinstance(value, bool):
            raise TypeError(f"setting {name} is not a length")
        return value

    def setting_number(self, name: str) -> Fraction:
        """Return a setting that is a number, exactly."""
        return _fraction(f"setting {name}", self.setting(name))

    def setting_lengths(self, name: str) -> tuple[int, ...]:
        """Return a setting that is a list of lengths, in nanometres."""
        value = self.setting(name)
        if not isinstance(value, tuple):
            raise TypeError(f"setting {name} is not a list of lengths")
        return value

    @property
    def settings_read(self) -> Mapping[str, Value | None]:
        """Every setting read so far, with the value used."""
        return self._settings_read


def _fraction(what: str, value: Value | None) -> Fraction:
    if isinstance(value, int | Decimal):
        return Fraction(value)
    raise TypeError(f"{what} is not a number")
