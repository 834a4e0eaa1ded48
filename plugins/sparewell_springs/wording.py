"""How numbers are written in sentences: rounded for reading, never used to reckon with."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction


def significant(value: Fraction, digits: int = 6) -> Decimal:
    """Return the value rounded half-even to so many significant digits."""
    if not value:
        return Decimal(0)
    places = digits - 1
    magnitude = abs(value)
    while magnitude >= 10:  # noqa: PLR2004 - the base of decimal digits
        magnitude /= 10
        places -= 1
    while magnitude < 1:
        magnitude *= 10
        places += 1
    scaled = round(value * Fraction(10) ** places)
    return Decimal(scaled).scaleb(-places)


def significant_text(value: Fraction, digits: int = 4) -> str:
    """Return so many significant digits, without trailing zeros and without an exponent."""
    text = f"{significant(value, digits):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def whole_nanometres(nanometres: Fraction) -> int:
    """Return nanometres rounded half-even, as a result carries them."""
    return round(nanometres)
