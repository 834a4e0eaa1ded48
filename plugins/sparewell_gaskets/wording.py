"""How numbers are written in sentences: rounded for reading, never used to reckon with."""

from __future__ import annotations

from fractions import Fraction

from sparewell.plugin import NANOMETRES_PER_64TH, millimetres_text


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
