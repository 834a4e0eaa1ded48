"""How much ink a sac holds: the volume of its hole, exact but for the number pi."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sparewell.plugin import Inputs, cylinder_millilitres
from sparewell_sacs.limits import diameter_nanometres


@dataclass(frozen=True)
class Capacity:
    """Millilitres: what the hole measures, and what of it a poor and a good stroke fill."""

    millilitres: Fraction
    low_millilitres: Fraction
    high_millilitres: Fraction


def volume_millilitres(
    size: Fraction | int, *, wall_nanometres: int, length_nanometres: int
) -> Fraction | None:
    """Return pi / 4 x inside diameter² x length, or None where the walls leave no hole."""
    inside_nanometres = diameter_nanometres(size) - 2 * wall_nanometres
    if inside_nanometres <= 0:
        return None
    return cylinder_millilitres(inside_nanometres, length_nanometres)


def capacity_of(
    inputs: Inputs, size: int, *, wall_nanometres: int, length_nanometres: int | None
) -> Capacity | None:
    """Return the capacity of a whole size, or None while no length is known."""
    if length_nanometres is None:
        return None
    millilitres = volume_millilitres(
        size, wall_nanometres=wall_nanometres, length_nanometres=length_nanometres
    )
    if millilitres is None:
        return None
    return Capacity(
        millilitres=millilitres,
        low_millilitres=millilitres * inputs.setting_number("sac.fill_low") / 100,
        high_millilitres=millilitres * inputs.setting_number("sac.fill_high") / 100,
    )
