"""Reading the values that a plugin's fields describe, from JSON, from a command, from a reading."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from sparewell.extend.fields import HIGHEST_NUMBER, Field, FieldType, Plain, Setting, Value
from sparewell.measure.length import (
    LengthError,
    length_text,
    likely_meant,
    likely_slip,
    parse_length,
)

LONGEST_TEXT = 200
LONGEST_INSTRUMENT = 100
MEASURED_KEYS = frozenset({"value", "spread", "instrument"})
MOST_DIGITS = 30
MOST_LENGTHS = 200
_MOST_WHOLE_DIGITS = 10
# A reading that may be off by more than a quarter says next to nothing.
_OF_THE_READING = 4


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
    if field.type is FieldType.GROUP:
        return ReadValue(_group(field, raw), "")
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
        instrument = clean_text(instrument, "the instrument", LONGEST_INSTRUMENT)
    if spread is None:
        return ReadValue(plain.value, plain.entered, instrument=instrument)
    if field.type is not FieldType.LENGTH:
        raise ValueRefused(f"{field.name} is not a length, so it has no spread")
    try:
        spread_nanometres = parse_length(spread, zero_allowed=True)
    except LengthError as error:
        raise ValueRefused(f"spread: {error}") from error
    return ReadValue(plain.value, plain.entered, spread_nanometres, _as_entered(spread), instrument)


def _group(field: Field, raw: object) -> Mapping[str, Plain]:
    """Read an object member by member."""
    known = ", ".join(member.name for member in field.members)
    if not isinstance(raw, Mapping):
        raise ValueRefused(f"give an object with {known}")
    for name in raw:
        if name not in {member.name for member in field.members}:
            raise ValueRefused(f"{name}: not known here; accepted: {known}")
    found: dict[str, Plain] = {}
    for member in field.members:
        if member.name not in raw:
            if member.required:
                raise ValueRefused(f"{member.name}: required")
            continue
        try:
            value = read_value(member, raw[member.name]).value
        except ValueRefused as error:
            raise ValueRefused(f"{member.name}: {error}") from error
        assert not isinstance(value, tuple | Mapping)  # noqa: S101 - groups hold plain values
        found[member.name] = value
    return found


def _lengths(raw: object) -> tuple[int, ...]:
    """Read a list of lengths, or a text with semicolons between them."""
    items = [item for item in raw.split(";") if item.strip()] if isinstance(raw, str) else raw
    if not isinstance(items, list | tuple) or len(items) > MOST_LENGTHS:
        raise ValueRefused(
            f"give at most {MOST_LENGTHS} lengths: a list, or a text with semicolons between them"
        )
    return tuple(_length(item, zero_allowed=False) for item in items)


def _as_entered(raw: object) -> str:
    return str(raw).strip()[:LONGEST_TEXT]


def _plain(field: Field | Setting, raw: object) -> Value:
    if raw is None:
        raise ValueRefused(f"empty: leave {field.name} out instead")
    match field.type:
        case FieldType.LENGTH:
            return _length(raw, zero_allowed=getattr(field, "zero_allowed", True))
        case FieldType.LENGTHS:
            return _lengths(raw)
        case FieldType.NUMBER:
            return read_number(raw)
        case FieldType.INTEGER:
            if isinstance(raw, bool) or not isinstance(raw, int):
                raise ValueRefused("give a whole number, such as 2")
            return raw
        case FieldType.FLAG:
            if not isinstance(raw, bool):
                raise ValueRefused("give true or false")
            return raw
    text = clean_text(raw, field.name, LONGEST_TEXT)
    if field.type is FieldType.CHOICE and text not in field.choices:
        raise ValueRefused(f"{text!r} is not one of {', '.join(field.choices)}")
    return text


def _length(raw: object, *, zero_allowed: bool) -> int:
    try:
        return parse_length(raw, zero_allowed=zero_allowed)
    except LengthError as error:
        raise ValueRefused(str(error)) from error


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
    if not isinstance(value, int | Decimal) or isinstance(value, bool):
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
    if any(unicodedata.category(character) in {"Cc", "Cs"} for character in raw):
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


def wide_spread(name: str, value: int, spread: int | None) -> str | None:
    """Return a warning for a spread that leaves little of its reading; it never blocks."""
    if not spread or _OF_THE_READING * spread <= value:
        return None
    how_wide = "no less than" if spread >= value else "more than a quarter of"
    return (
        f"{name} {length_text(value)}: a spread of {length_text(spread)} is {how_wide} the "
        "reading; is it a slip?"
    )


def swapped(
    fields: Iterable[Field], values: Mapping[str, Value], titles: Mapping[str, str]
) -> list[str]:
    """Return a warning for each length that is not narrower than what it goes into."""
    warnings = []
    for field in fields:
        for wider in field.narrower_than:
            inner, outer = values.get(field.name), values.get(wider)
            if isinstance(inner, int) and isinstance(outer, int) and inner >= outer:
                warnings.append(
                    f"{field.title} {length_text(inner)} is not narrower than "
                    f"{titles.get(wider, wider)} {length_text(outer)}: are the two swapped?"
                )
    return warnings


def slips(fields: Iterable[Field], values: Mapping[str, Value]) -> dict[str, int]:
    """Return, by name, what each length outside the usual was likely meant to be."""
    found = {}
    for field in fields:
        value = values.get(field.name)
        if field.plausible is None or not isinstance(value, int) or isinstance(value, bool):
            continue
        meant = likely_meant(value, *field.plausible)
        if meant is not None:
            found[field.name] = meant
    return found


def read_setting(setting: Setting, raw: object) -> Value | None:
    """Return the value a setting takes from `raw`. Raises :class:`ValueRefused`."""
    if raw is None:
        if setting.nullable:
            return None
        raise ValueRefused(f"{setting.name} must have a value")
    value = _plain(setting, raw)
    _check_bounds(setting, value)
    return value
