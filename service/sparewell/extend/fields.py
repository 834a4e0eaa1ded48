"""How a plugin describes values: what a calculator takes, what it answers, what a setting holds.

One description serves the JSON schema of the endpoint, the options of the command, the form of the
bench page and the plan of a job. Lengths are whole nanometres on the Python side and millimetres
(or any spelling of :func:`sparewell.measure.length.parse_length`) outside.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
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
