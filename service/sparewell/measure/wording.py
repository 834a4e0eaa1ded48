"""How exact numbers are written in sentences: rounded for reading, never used to reckon with."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from sparewell.measure.length import NANOMETRES_PER_MILLIMETRE

BYTES_PER_MEGABYTE = 1_000_000


def rounded(value: Fraction | Decimal, places: int) -> Decimal:
    """Return the value rounded half-even on its exact value."""
    return Decimal(round(Fraction(value) * 10**places)).scaleb(-places)


def number_text(value: Fraction | Decimal, places: int) -> str:
    """Return the rounded value without trailing zeros."""
    text = f"{rounded(value, places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def millimetres_text(nanometres: int | Fraction) -> str:
    """Return millimetres to the micrometre, or to the nanometre where that would show nothing."""
    exact = Fraction(nanometres) / NANOMETRES_PER_MILLIMETRE
    text = number_text(exact, 3)
    return f"{number_text(exact, 6) if exact and Fraction(text) == 0 else text} mm"


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
