"""How numbers are rounded and written; what is reckoned with stays exact."""

from __future__ import annotations

from fractions import Fraction

from sparewell.plugin import rounded


def millilitres_text(millilitres: Fraction) -> str:
    """Return a volume to a hundredth of a millilitre, zeros kept: that is what scales show."""
    return f"{rounded(millilitres, 2):f} ml"
