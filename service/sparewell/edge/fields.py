"""The fields that every room's schemas are built from. Pure marshmallow."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any, ClassVar

import marshmallow as ma
from marshmallow import fields, validate

from sparewell.database.numbers import number_of
from sparewell.measure import made_on, money
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength
from sparewell.measure.length import (
    LONGEST_NANOMETRES,
    LONGEST_TEXT_CHARACTERS,
    NANOMETRES_PER_MILLIMETRE,
    LengthError,
    millimetres,
    parse_length,
)
from sparewell.measure.made_on import MadeOn, MadeOnError, parse_made_on
from sparewell.measure.money import MoneyError, money_text, parse_money

MOST_PIECES = 1_000_000
LONGEST_NOTE = 2000
HIGHEST_ID = 2**63 - 1
NUMBER_PATTERN = r"[^/\\?#%\x00-\x1f\x7f]{1,64}"


# For the document: what JSON Schema can say of our texts, no more and no less where it can.
_CONTROL = r"\x00-\x1f\x7f-\x9f"


_CONTROL_BUT_LINES = r"\x00-\x08\x0b-\x1f\x7f-\x9f"
_MOMENT = r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?"
_MOMENT_PATTERN = rf"^{_MOMENT}([Zz]|[+-][0-9]{{2}}:[0-9]{{2}})$"
_MOMENT_MEANT = "must be a moment as RFC 3339 writes it, such as 2026-11-25T21:40:00Z"


def _some_text_without(never: str, *, further: str = "") -> str:
    """Return the pattern of a text with none of these, and with one that is no space either."""
    return rf"^[^{never}]*[^{never}{further}\s][^{never}]*$"


TEXT_PATTERN = _some_text_without(_CONTROL)
_QUARTER = "[Qq][1-4]"
_MADE_ON_PATTERN = (
    r"^\s*(|[Uu]nknown|[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?"
    rf"|[0-9]{{4}}[ /-]?{_QUARTER}|{_QUARTER}[ /-]?[0-9]{{4}}|[1-4][Qq][ /-]?[0-9]{{4}})\s*$"
)
_MONEY_PATTERN = "^[ \u00a0]*([0-9]+([.,][0-9]{1,2})?|[.,][0-9]{1,2})[ \u00a0]*$"
_ANY_FIGURE = "[0-9\u00bc-\u00be\u2150-\u215e]"
_ANY_BUT_NOUGHT = "[1-9\u00bc-\u00be\u2150-\u215e]"
_HALF_A_NANOMETRE = 0.5 / NANOMETRES_PER_MILLIMETRE  # rounds to nothing


class Text(fields.String):
    """A text without outer spaces or control characters, between 1 and `longest` characters."""

    never: ClassVar[str] = _CONTROL
    allowed: ClassVar[str] = ""

    def __init__(self, *, longest: int = 200, empty_allowed: bool = False, **options: Any) -> None:
        self.longest = longest
        self.empty_allowed = empty_allowed
        length = validate.Length(min=0 if empty_allowed else 1, max=longest)
        pattern = f"^[^{self.never}]*$" if empty_allowed else _some_text_without(self.never)
        metadata = {"pattern": pattern, **options.pop("metadata", {})}
        super().__init__(validate=length, metadata=metadata, **options)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> str:
        if not isinstance(value, str):
            raise ma.ValidationError("must be a text")
        if any(
            unicodedata.category(character) in {"Cc", "Cs"} and character not in self.allowed
            for character in value
        ):
            raise ma.ValidationError("must not hold control characters")
        text = unicodedata.normalize("NFC", value).strip()
        if not text and not self.empty_allowed:
            raise ma.ValidationError("must not be empty")
        return str(super()._deserialize(text, attr, data, **options))


class SeveralLines(Text):
    """A text that may have lines and tabs: a note, a reason."""

    never = _CONTROL_BUT_LINES
    allowed = "\n\t"

    def __init__(self, *, longest: int = LONGEST_NOTE, **options: Any) -> None:
        super().__init__(longest=longest, **options)


def note(**options: Any) -> SeveralLines:
    """Return the field for a free note, empty by default."""
    return SeveralLines(empty_allowed=True, load_default="", **options)


def identifier_text(longest: int = 64, **options: Any) -> fields.String:
    """Return the field for a number or a code that people write on labels and in addresses."""
    pattern = _some_text_without(rf"/\\?#%{_CONTROL}", further=".")
    return _IdentifierText(metadata={"pattern": pattern}, longest=longest, **options)


class _IdentifierText(Text):
    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> str:
        text = super()._deserialize(value, attr, data, **options)
        if not re.fullmatch(NUMBER_PATTERN, text) or text.strip(".") == "":
            raise ma.ValidationError(
                r"must not hold any of / \ ? # %, since it stands in addresses"
            )
        return text


def pieces(**options: Any) -> fields.Integer:
    """Return the field for a number of pieces, at least one."""
    return fields.Integer(
        strict=True,
        validate=validate.Range(
            1, MOST_PIECES, error=f"must be a whole number from 1 to {MOST_PIECES}"
        ),
        error_messages={"invalid": f"must be a whole number from 1 to {MOST_PIECES}"},
        **options,
    )


def row_id(**options: Any) -> fields.Integer:
    """Return the field for the id of a row."""
    return fields.Integer(
        strict=True,
        validate=validate.Range(1, HIGHEST_ID, error="must be an id, a whole number from 1"),
        error_messages={"invalid": "must be an id, a whole number from 1"},
        **options,
    )


class WholeNumberArgument(fields.Integer):
    """A whole number in a query, where every value comes as a text; only 0 to 9 are figures."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> Any:
        if not isinstance(value, str) or not re.fullmatch("[0-9]{1,40}", value):
            raise self.make_error("invalid", input=value)
        return super()._deserialize(value, attr, data, **options)


def row_id_argument() -> WholeNumberArgument:
    """Return the field for the id of a row in a query."""
    meant = "must be an id, a whole number from 1"
    return WholeNumberArgument(
        validate=validate.Range(1, HIGHEST_ID, error=meant), error_messages={"invalid": meant}
    )


class Flag(fields.Boolean):
    """True or false, and nothing that looks like them: 1 is equal to true, and is not true."""

    def __init__(self, **options: Any) -> None:
        super().__init__(truthy={True}, falsy={False}, **options)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return value


class DayArgument(fields.Date):
    """A day in a query as RFC 3339 writes it; the other forms of ISO 8601 are not read."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> date:
        if not isinstance(value, str) or not re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            raise self.make_error("invalid", input=value, obj_type=self.OBJ_TYPE)
        day: date = super()._deserialize(value, attr, data, **options)
        return day


def day(**options: Any) -> DayArgument:
    """Return the field for a day that may be taken away again."""
    meant = "must be a day such as 2026-12-01"
    return DayArgument(allow_none=True, error_messages={"invalid": meant}, **options)


def length_schema(*, zero_allowed: bool = False) -> dict[str, Any]:
    """Return the JSON schema of a length; what its text comes to, no schema can say."""
    least = {"minimum": 0} if zero_allowed else {"exclusiveMinimum": _HALF_A_NANOMETRE}
    return {
        "type": ["number", "string"],
        **least,
        "maximum": LONGEST_NANOMETRES // NANOMETRES_PER_MILLIMETRE,
        "maxLength": LONGEST_TEXT_CHARACTERS,
        "pattern": _ANY_FIGURE if zero_allowed else _ANY_BUT_NOUGHT,
    }


class Length(fields.Field[Any]):
    """A length: comes as millimetres or as a text with its unit, leaves as millimetres."""

    def __init__(self, *, zero_allowed: bool = False, **options: Any) -> None:
        self.zero_allowed = zero_allowed
        metadata = {
            **length_schema(zero_allowed=zero_allowed),
            "description": "millimetres, or a text with its unit: 9/32 in, 0.281 in, 7.1 mm",
            **options.pop("metadata", {}),
        }
        super().__init__(metadata=metadata, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> EnteredLength:
        try:
            nanometres = parse_length(value, zero_allowed=self.zero_allowed)
        except LengthError as error:
            raise ma.ValidationError(str(error)) from error
        return EnteredLength(nanometres, str(value).strip())

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> float | None:
        return None if value is None else millimetres(value)


class DimensionMap(fields.Field[Any]):
    """An object of lengths by the name of the dimension; a null, where allowed, takes one away."""

    def __init__(self, *, nulls_allowed: bool = False, **options: Any) -> None:
        self.nulls_allowed = nulls_allowed
        length = self._of_one()
        if nulls_allowed:
            length["type"] = [*length["type"], "null"]
        metadata = {
            "type": "object",
            "description": "lengths by name, in millimetres or as texts with their unit",
            "properties": dict.fromkeys(DIMENSIONS, length),
            "additionalProperties": False,
            **options.pop("metadata", {}),
        }
        super().__init__(metadata=metadata, **options)

    def _of_one(self) -> dict[str, Any]:
        """Return the JSON schema of one member."""
        return length_schema()

    def _read(self, raw: Any) -> EnteredLength:
        """Return one member. Raises :class:`LengthError`."""
        return EnteredLength(parse_length(raw), str(raw).strip())

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> dict[str, EnteredLength | None]:
        if not isinstance(value, Mapping):
            raise ma.ValidationError('must be an object, such as {"outside_diameter": "5.9 mm"}')
        found: dict[str, EnteredLength | None] = {}
        faults: dict[str | int, Any] = {}
        for name, raw in value.items():
            if name not in DIMENSIONS:
                faults[name] = [f"not a dimension; they are {', '.join(DIMENSIONS)}"]
                continue
            if raw is None and self.nulls_allowed:
                found[name] = None
                continue
            try:
                found[name] = self._read(raw)
            except LengthError as error:
                faults[name] = [str(error)]
        if faults:
            raise ma.ValidationError(faults)
        return found

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> Any:
        return {name: millimetres(nanometres) for name, nanometres in value.items()}


class Money(fields.Field[Any]):
    """An amount: comes as "8.50" or a number, leaves as a decimal string."""

    def __init__(self, **options: Any) -> None:
        metadata = {
            "type": ["string", "number"],
            "minimum": 0,
            "maximum": money.LARGEST_MAJOR,
            "maxLength": money.LONGEST_TEXT_CHARACTERS,
            "pattern": _MONEY_PATTERN,
            "description": 'an amount with at most two decimals, such as "8.50"',
            **options.pop("metadata", {}),
        }
        super().__init__(metadata=metadata, allow_none=True, **options)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> int:
        try:
            return parse_money(value)
        except MoneyError as error:
            raise ma.ValidationError(str(error)) from error

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> str | None:
        return None if value is None else money_text(value)


class MadeOnDate(fields.Field[Any]):
    """When rubber was made: a day, a month, a quarter or a year; null is unknown."""

    def __init__(self, **options: Any) -> None:
        metadata = {
            "type": ["string", "integer"],
            "minimum": made_on.EARLIEST_YEAR,
            "maximum": made_on.LATEST_YEAR,
            "maxLength": made_on.LONGEST_TEXT_CHARACTERS,
            "pattern": _MADE_ON_PATTERN,
            "description": "2026-03-01, 2026-03, 2026-Q1 or 2026; null when unknown",
        }
        super().__init__(metadata=metadata, allow_none=True, **options)

    def _deserialize(
        self, value: Any, attr: str | None, data: Any, **options: Any
    ) -> MadeOn | None:
        try:
            return parse_made_on(value)
        except MadeOnError as error:
            raise ma.ValidationError(str(error)) from error

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> str | None:
        return None if value is None else str(value)


class Moment(fields.Field[Any]):
    """A moment in UTC as RFC 3339 prints it, with Z; only ever sent."""

    def __init__(self, **options: Any) -> None:
        metadata = {"type": ["string", "null"], "format": "date-time"}
        super().__init__(metadata=metadata, dump_only=True, **options)

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> str | None:
        return None if value is None else rfc3339(value)


def rfc3339(moment: datetime) -> str:
    """Return a moment as RFC 3339 prints it, in UTC with Z."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


class GivenMoment(fields.Field[Any]):
    """A moment with its zone, as RFC 3339 writes it."""

    def __init__(self, **options: Any) -> None:
        metadata = {"type": "string", "format": "date-time", "pattern": _MOMENT_PATTERN}
        super().__init__(metadata=metadata, **options)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **options: Any) -> datetime:
        if not isinstance(value, str) or not re.fullmatch(_MOMENT_PATTERN, value):
            raise ma.ValidationError(_MOMENT_MEANT)
        try:
            return datetime.fromisoformat(value.upper()).astimezone(UTC)
        except (ValueError, OverflowError) as error:
            raise ma.ValidationError(f"{_MOMENT_MEANT}: there is none such") from error


def free_text(longest: int) -> Text:
    """Return the field for a text that may be empty."""
    return Text(longest=longest, empty_allowed=True)


class NumberOf(fields.String):
    """The number that people use of a row, such as JOB-0001, made of its id; only ever sent."""

    def __init__(self, prefix: str, **options: Any) -> None:
        self.prefix = prefix
        super().__init__(**options)

    def _serialize(self, value: Any, attr: str | None, obj: Any, **options: Any) -> str | None:
        return number_of(self.prefix, value) if value else None
