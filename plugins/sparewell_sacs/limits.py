"""The fits as pure arithmetic: whole nanometres and exact fractions, no settings, no sentences.

Three things must hold at once. The sac passes down the barrel beside the bar; it is no larger
than the nipple's own number; and, pulled over the nipple, it still enters the bore.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from math import ceil, floor, isqrt
from types import MappingProxyType
from typing import Final

from sparewell.plugin import NANOMETRES_PER_64TH

HALF: Final = Fraction(1, 2)

# How often the bar comes off the diameter. On the axis it eats from the radius, hence twice.
TIMES_BY_RULE: Final = MappingProxyType({"twice": 2, "once": 1, "none": 0})


class SacLimit(StrEnum):
    """What the size rests on."""

    BARREL = "barrel"
    NIPPLE = "nipple"
    OVER_NIPPLE = "over_nipple"
    TRY_IN = "try_in"


class SizingOutcome(StrEnum):
    """How barrel and nipple agree."""

    AGREE = "agree"
    NIPPLE_LIMITS = "nipple_limits"
    BARREL_LIMITS = "barrel_limits"
    CHECK_BARREL = "check_barrel"


def diameter_nanometres(size: Fraction | int) -> Fraction:
    """Return the exact nominal outside diameter of a sac number."""
    return Fraction(size) * NANOMETRES_PER_64TH


def floor_to_half(limit: Fraction) -> Fraction:
    """Return the largest half number that is not above the limit."""
    return Fraction(floor(limit * 2), 2)


def chord_height_nanometres(
    *, bore_nanometres: int, bar_width_nanometres: int, bar_thickness_nanometres: int
) -> int:
    """Return how far the face of a flat bar stands off the wall of a round bore, rounded up.

    The bar's edges touch the wall, so it stands off by its thickness and by the sagitta of the
    chord: radius - sqrt(radius² - (width / 2)²). Everything is doubled to stay whole.
    """
    if bar_width_nanometres >= bore_nanometres:
        raise ValueError("a bar as wide as the bore does not lie in it")
    root = isqrt(bore_nanometres**2 - bar_width_nanometres**2)
    sagitta_nanometres = (bore_nanometres - root + 1) // 2
    return bar_thickness_nanometres + sagitta_nanometres


def clearance_nanometres(
    *, times: int, bar_height_nanometres: int, most_nanometres: int, generous_bar_nanometres: int
) -> int:
    """Return the clearance by default: a bar that is counted brings part of its own, or all of it.

    So the room never grows with the bar: what the bar takes, the clearance gives back at most.
    """
    if not times:
        return most_nanometres
    lacking_nanometres = times * (generous_bar_nanometres - bar_height_nanometres)
    return min(most_nanometres, max(0, lacking_nanometres))


def room_nanometres(
    *, bore_nanometres: int, times: int, bar_height_nanometres: int, clearance_nanometres: int
) -> int:
    """Return the widest a sac may be; zero or less where nothing is left."""
    return bore_nanometres - times * bar_height_nanometres - clearance_nanometres


def over_nipple_nanometres(
    *, nipple_nanometres: int, outside_nanometres: Fraction | int, inside_nanometres: Fraction | int
) -> int:
    """Return what a sac measures once it is pulled over the nipple, rounded up.

    A stretched wall is thinner: the ring of rubber keeps its area. One that is not stretched
    measures what it did.
    """
    if inside_nanometres >= nipple_nanometres:
        return ceil(outside_nanometres)
    ring = outside_nanometres**2 - max(inside_nanometres, 0) ** 2
    return _root_up(nipple_nanometres**2 + ring)


def thickest_wall_nanometres(
    *, bore_nanometres: int, nipple_nanometres: int, outside_nanometres: Fraction | int
) -> int:
    """Return the wall at rest with which a sac over the nipple is as wide as the bore.

    The ring of rubber then has the area between nipple and bore; rounded down.
    """
    outside = Fraction(outside_nanometres)
    hole = outside**2 - (bore_nanometres**2 - nipple_nanometres**2)
    if hole <= 0:
        return floor(outside / 2)
    return floor((outside - _root_up(hole)) / 2)


def _root_up(square: Fraction | int) -> int:
    """Return the least whole number whose square is not less."""
    whole = ceil(square)
    root = isqrt(whole)
    return root if root * root >= whole else root + 1


def outcome_of(
    *,
    barrel_size: int,
    nipple_size: int,
    overstretched: bool,
    check_barrel_sizes: int,
    limits_apart_sizes: int,
) -> SizingOutcome:
    """Return how the whole sizes of barrel and nipple agree; doubt about the barrel comes first."""
    if overstretched or nipple_size >= barrel_size + check_barrel_sizes:
        return SizingOutcome.CHECK_BARREL
    if barrel_size >= nipple_size + limits_apart_sizes:
        return SizingOutcome.NIPPLE_LIMITS
    if nipple_size >= barrel_size + limits_apart_sizes:
        return SizingOutcome.BARREL_LIMITS
    return SizingOutcome.AGREE
