"""Volumes from lengths: exact but for the number pi."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from sparewell.measure.length import NANOMETRES_PER_MILLIMETRE

PI: Final = Fraction("3.14159265358979323846264338327950288419716939937510")
_CUBIC_NANOMETRES_PER_MILLILITRE: Final = 1_000 * NANOMETRES_PER_MILLIMETRE**3


def cylinder_millilitres(
    diameter_nanometres: int | Fraction, length_nanometres: int | Fraction
) -> Fraction:
    """Return pi / 4 x diameter² x length."""
    cubic_nanometres = PI / 4 * diameter_nanometres**2 * length_nanometres
    return cubic_nanometres / _CUBIC_NANOMETRES_PER_MILLILITRE
