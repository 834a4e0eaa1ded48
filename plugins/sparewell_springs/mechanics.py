"""The mechanics of a helical compression spring: exact arithmetic, no settings, no sentences.

d wire, D mean diameter of the coil, C = D / d, Na active coils, G shear modulus, F force, y how
far it is pressed. Millimetres, newtons and megapascals (newtons per square millimetre).

Sources: Shigley's Mechanical Engineering Design, chapter 10; Machinery's Handbook, 31st edition.
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

PI: Final = Fraction("3.14159265358979323846264338327950288419716939937510")
MEGAPASCALS_PER_GIGAPASCAL: Final = 1_000
_DIGITS: Final = 28


def rate(
    *, wire: Fraction, mean: Fraction, active_coils: Fraction, shear_modulus_gpa: Fraction
) -> Fraction:
    """Return the rate in newtons per millimetre: G d^4 / (8 D^3 Na)."""
    modulus = shear_modulus_gpa * MEGAPASCALS_PER_GIGAPASCAL
    return modulus * wire**4 / (8 * mean**3 * active_coils)


def rate_with_direct_shear(rate_n_per_mm: Fraction, index: Fraction) -> Fraction:
    """Return the rate by the whole strain energy: k / (1 + 1 / (2 C^2))."""
    return rate_n_per_mm / (1 + 1 / (2 * index**2))


def wahl_factor(index: Fraction) -> Fraction:
    """Return (4 C - 1) / (4 C - 4) + 0.615 / C; the index is above 1."""
    return (4 * index - 1) / (4 * index - 4) + Fraction("0.615") / index


def curvature_factor(index: Fraction) -> Fraction:
    """Return the factor of recent textbooks: (4 C + 2) / (4 C - 3)."""
    return (4 * index + 2) / (4 * index - 3)


def shear_stress(*, force: Fraction, wire: Fraction, mean: Fraction, factor: Fraction) -> Fraction:
    """Return the greatest shear stress in megapascals: K 8 F D / (pi d^3)."""
    return factor * 8 * force * mean / (PI * wire**3)


def force_at_stress(
    *, stress: Fraction, wire: Fraction, mean: Fraction, factor: Fraction
) -> Fraction:
    """Return the force in newtons at which the shear stress is so many megapascals."""
    return stress * PI * wire**3 / (8 * factor * mean)


def power_law(constant: Decimal, wire: Fraction, exponent: Decimal) -> Fraction:
    """Return A / d^m in megapascals, to 28 digits; A in MPa mm^m, d in millimetres."""
    with localcontext() as context:
        context.prec = _DIGITS
        diameter = Decimal(wire.numerator) / Decimal(wire.denominator)
        return Fraction(constant / diameter**exponent)


def buckling_length(mean: Fraction) -> Fraction:
    """Return the free length in millimetres from which a steel spring may buckle.

    2.63 D / alpha, with alpha = 0.5: squared and ground, between parallel plates.
    """
    return Fraction("2.63") * mean / Fraction(1, 2)
