"""How numbers are rounded and written; what is reckoned with stays exact."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction


def rounded(value: Fraction, places: int) -> Decimal:
    """Return the value rounded half-even on its exact value."""
    return Decimal(round(value * 10**places)).scaleb(-places)


def number_text(value: Fraction, places: int) -> str:
    """Return the rounded value without trailing zeros."""
    text = f"{rounded(value, places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def millilitres_text(millilitres: Fraction) -> str:
    """Return a volume to a hundredth of a millilitre, zeros kept: that is what scales show."""
    return f"{rounded(millilitres, 2):f} ml"
