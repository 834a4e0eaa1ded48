"""How numbers are rounded and written: for reading only, never used to reckon with."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE


def rounded(value: Decimal, places: int) -> Decimal:
    """Return the value rounded half-even to so many places, never as minus nought."""
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN) + 0


def number_text(value: Decimal, places: int) -> str:
    """Return the rounded value without trailing zeros."""
    text = f"{rounded(value, places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent_text(percent: Decimal) -> str:
    """Return a percentage to a tenth."""
    return f"{number_text(percent, 1)} %"


def millimetres_text(nanometres: int | Fraction | Decimal) -> str:
    """Return millimetres to the hundredth, as rings are printed and sold; a half goes up."""
    hundredths = Fraction(nanometres) * 100 / NANOMETRES_PER_MILLIMETRE
    sign = "-" if hundredths < 0 else ""
    whole = (abs(hundredths) + Fraction(1, 2)).__floor__()
    text = number_text(Decimal(whole).scaleb(-2), 2)
    return f"{sign if whole else ''}{text} mm"


def ring_text(inside_nanometres: int, section_nanometres: int) -> str:
    """Return a ring as it is asked for: "4.47 x 1.78 mm"."""
    inside_text = millimetres_text(inside_nanometres).removesuffix(" mm")
    return f"{inside_text} x {millimetres_text(section_nanometres)}"


def first_capital(text: str) -> str:
    """Return the text with its first letter large."""
    return text[:1].upper() + text[1:]
