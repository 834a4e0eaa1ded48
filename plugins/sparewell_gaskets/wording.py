"""How numbers are written in sentences: rounded for reading, never used to reckon with."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from sparewell.plugin import NANOMETRES_PER_64TH, NANOMETRES_PER_MILLIMETRE


def rounded(value: Fraction, places: int) -> Decimal:
    """Return the value rounded half-even on its exact value."""
    return Decimal(round(value * 10**places)).scaleb(-places)


def number_text(value: Fraction, places: int) -> str:
    """Return the rounded value without trailing zeros."""
    text = f"{rounded(value, places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def millimetres_text(nanometres: int | Fraction) -> str:
    """Return millimetres to the micrometre, or to the nanometre where that would show nothing."""
    exact = Fraction(nanometres) / NANOMETRES_PER_MILLIMETRE
    text = number_text(exact, 3)
    return f"{number_text(exact, 6) if exact and Fraction(text) == 0 else text} mm"


def trade_text(nanometres: int) -> str:
    """Return a diameter as a punch or a drill is called: 21/64 in, or else millimetres."""
    parts = Fraction(nanometres, NANOMETRES_PER_64TH)
    if parts.denominator != 1:
        return millimetres_text(nanometres)
    whole, rest = divmod(parts / 64, 1)
    fraction = f"{rest.numerator}/{rest.denominator}" if rest else ""
    return f"{' '.join(part for part in (str(whole) if whole else '', fraction) if part)} in"


def to_micrometre(nanometres: Fraction) -> int:
    """Return nanometres rounded half-even to whole micrometres: no washer is cut finer."""
    return round(nanometres / 1_000) * 1_000
