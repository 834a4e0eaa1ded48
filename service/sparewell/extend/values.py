"""Reading the values that a plugin's fields describe, from JSON, from a command, from a reading."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from sparewell.extend.fields import HIGHEST_NUMBER, Field, FieldType, Setting, Value
from sparewell.measure.length import LengthError, length_text, likely_slip, parse_length

LONGEST_TEXT = 200
MEASURED_KEYS = frozenset({"value", "spread", "instrument"})
MOST_DIGITS = 30
_MOST_WHOLE_DIGITS = 10


class ValueRefused(Exception):  # noqa: N818 - an expected refusal
    """A value cannot be taken; the sentence says what would be accepted."""


@dataclass(frozen=True)
class ReadValue:
    """One value as it will be used, and as it was entered."""

    value: Value
    entered: str
    spread: int | None = None
    spread_entered: str | None = None
    instrument: str | None = None


def read_value(field: Field, raw: object) -> ReadValue:
    """Return the value a field takes from `raw`. Raises :class:`ValueRefused`."""
    if isinstance(raw, Mapping):
        return _read_measured(field, raw)
    value = _plain(field, raw)
    _check_bounds(field, value)
    return ReadValue(value, _as_entered(raw))


def _read_measured(field: Field, raw: Mapping[object, object]) -> ReadValue:
    """Read a value given with its instrument and spread."""
    if not field.measured:
        raise ValueRefused(f"{field.name} is not a reading: give the value alone")
    unknown = [str(key) for key in raw if key not in MEASURED_KEYS]
    if unknown or "value" not in raw:
        raise ValueRefused(
            'give the value alone, or {"value": ..., "instrument": ..., "spread": ...}'
        )
    inner = raw["value"]
    if isinstance(inner, Mapping):
        raise ValueRefused("a value inside a value: give a length or a number")
    plain = read_value(field, inner)
    spread = raw.get("spread")
    instrument = raw.get("instrument")
    if instrument is not None:
        instrument = clean_text(instrument, "the instrument", 100)
    if spread is None:
        return ReadValue(plain.value, plain.entered, instrument=instrument)
    if field.type is not FieldType.LENGTH:
        raise ValueRefused(f"{field.name} is not a length, so it has no spread")
    try:
        spread_nanometres = parse_length(spread, zero_allowed=True)
    except LengthError as error:
        raise ValueRefused(f"spread: {error}") from error
    return ReadValue(plain.value, plain.entered, spread_nanometres, _as_entered(spread), instrument)


def _as_entered(raw: object) -> str:
    return str(raw).strip()[:LONGEST_TEXT]


def _plain(field: Field | Setting, raw: object) -> Value:
    if raw is None:
        raise ValueRefused(f"empty: leave {field.name} out instead")
    if field.type is FieldType.LENGTH:
        try:
            return parse_length(raw, zero_allowed=getattr(field, "zero_allowed", True))
        except LengthError as error:
            raise ValueRefused(str(error)) from error
    if field.type is FieldType.NUMBER:
        return read_number(raw)
    if field.type is FieldType.INTEGER:
        if isinstance(raw, bool) or not isinstance(raw, int):
            raise ValueRefused("give a whole number, such as 2")
        return raw
    if field.type is FieldType.FLAG:
        if not isinstance(raw, bool):
            raise ValueRefused("give true or false")
        return raw
    text = clean_text(raw, field.name, LONGEST_TEXT)
    if field.type is FieldType.CHOICE and text not in field.choices:
        raise ValueRefused(f"{text!r} is not one of {', '.join(field.choices)}")
    return text


def read_number(raw: object) -> Decimal:
    """Return a decimal number from a JSON number or a string such as "15.5" or "15,5"."""
    if isinstance(raw, str):
        text = raw.strip().replace(",", ".").replace("½", ".5")
        if not text.isascii() or len(text) > MOST_DIGITS or "_" in text or "e" in text.lower():
            raise ValueRefused("give a number, such as 15.5")
        try:
            raw = Decimal(text)
        except InvalidOperation as error:
            raise ValueRefused("give a number, such as 15.5") from error
    if isinstance(raw, bool) or not isinstance(raw, int | Decimal | float):
        raise ValueRefused("give a number, such as 15.5")
    if isinstance(raw, int):
        if abs(raw) > HIGHEST_NUMBER:
            raise ValueRefused(f"the number is larger than {HIGHEST_NUMBER}")
        return Decimal(raw)
    number = Decimal(str(raw)) if isinstance(raw, float) else raw
    if not number.is_finite():
        raise ValueRefused("give a finite number")
    if (
        len(number.as_tuple().digits) > MOST_DIGITS
        or not -MOST_DIGITS < number.adjusted() < _MOST_WHOLE_DIGITS
    ):
        raise ValueRefused(
            f"give a number below {HIGHEST_NUMBER} with at most {MOST_DIGITS} digits"
            if number
            else "give the number as 0"
        )
    return number


def _check_bounds(field: Field | Setting, value: Value) -> None:
    if isinstance(value, str | bool):
        return
    show = length_text if field.type is FieldType.LENGTH else str
    if field.minimum is not None and value < field.minimum:
        raise ValueRefused(f"must be at least {show(field.minimum)}")  # type: ignore[arg-type]
    if field.maximum is not None and value > field.maximum:
        raise ValueRefused(f"must be at most {show(field.maximum)}")  # type: ignore[arg-type]


def clean_text(raw: object, what: str, longest: int) -> str:
    """Return a text without outer spaces. Raises :class:`ValueRefused`."""
    if not isinstance(raw, str):
        raise ValueRefused(f"{what}: give a text")
    text = raw.strip()
    if not text:
        raise ValueRefused(f"{what}: empty")
    if len(text) > longest:
        raise ValueRefused(f"{what}: at most {longest} characters")
    if any(unicodedata.category(character) in {"Cc", "Cs"} for character in text):
        raise ValueRefused(f"{what}: no control characters")
    return text


def improbable(fields: Iterable[Field], values: Mapping[str, Value]) -> list[str]:
    """Return a warning for each length outside the usual; they never block."""
    warnings = []
    for field in fields:
        value = values.get(field.name)
        if field.plausible is None or not isinstance(value, int) or isinstance(value, bool):
            continue
        warning = likely_slip(value, *field.plausible, name=field.title)
        if warning is not None:
            warnings.append(warning)
    return warnings


def read_setting(setting: Setting, raw: object) -> Value | None:
    """Return the value a setting takes from `raw`. Raises :class:`ValueRefused`."""
    if raw is None:
        if setting.nullable:
            return None
        raise ValueRefused(f"{setting.name} must have a value")
    value = _plain(setting, raw)
    _check_bounds(setting, value)
    return value
