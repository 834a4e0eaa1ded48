"""How rings are written: for reading only, never used to reckon with."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, number_text


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
