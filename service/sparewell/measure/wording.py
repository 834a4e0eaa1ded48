"""How exact numbers are written in sentences: rounded for reading, never used to reckon with."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from sparewell.measure.rounding import rounded_quotient, scaled_text

NANOMETRES_PER_MICROMETRE = 1_000
BYTES_PER_MEGABYTE = 1_000_000


def rounded(value: Fraction | Decimal, places: int) -> Decimal:
    """Return the value rounded half-even on its exact value."""
    return Decimal(_scaled(value, places)).scaleb(-places)


def number_text(value: Fraction | Decimal, places: int) -> str:
    """Return the rounded value without trailing zeros."""
    return scaled_text(_scaled(value, places), places)


def _scaled(value: Fraction | Decimal, places: int) -> int:
    numerator, denominator = value.as_integer_ratio()
    return rounded_quotient(numerator * 10**places, denominator)


def millimetres_text(nanometres: int | Fraction) -> str:
    """Return millimetres to the micrometre, or to the nanometre where that would show nothing."""
    numerator, denominator = nanometres.as_integer_ratio()
    micrometres = rounded_quotient(numerator, denominator * NANOMETRES_PER_MICROMETRE)
    if micrometres or not numerator:
        return f"{scaled_text(micrometres, 3)} mm"
    return f"{scaled_text(rounded_quotient(numerator, denominator), 6)} mm"


def percent_text(percent: Fraction | Decimal) -> str:
    """Return a percentage to a tenth."""
    return f"{number_text(percent, 1)} %"


def megabytes_text(size_bytes: int) -> str:
    """Write a size as people read it off a phone: "8.4 MB"; below a tenth of one, in bytes."""
    if size_bytes < BYTES_PER_MEGABYTE // 10:
        return f"{size_bytes} bytes"
    return f"{size_bytes / BYTES_PER_MEGABYTE:.1f}".removesuffix(".0") + " MB"


def first_capital(text: str) -> str:
    """Return the text with its first letter large."""
    return text[:1].upper() + text[1:]
