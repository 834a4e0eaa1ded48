"""How far a sac is stretched over the nipple, and what that means for its material."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sparewell.plugin import Inputs
from sparewell_sacs.limits import diameter_nanometres


@dataclass(frozen=True)
class Walls:
    """The wall assumed for a sac that has not been measured, and the band it may lie in."""

    thin_nanometres: int
    nominal_nanometres: int
    thick_nanometres: int
    given: bool


class Grip(StrEnum):
    """What a stretch does, from too little to too much."""

    FALLS_OFF = "falls_off"
    LOOSE = "loose"
    MARGINAL = "marginal"
    GOOD = "good"
    ACCEPTABLE = "acceptable"
    STIFF = "stiff"
    TIGHT = "tight"
    REFUSED = "refused"


@dataclass(frozen=True)
class Stretch:
    """The stretch in percent by wall; None where so thick a wall leaves no hole."""

    least: Fraction | None
    nominal: Fraction | None
    most: Fraction | None


def walls_of(inputs: Inputs) -> Walls:
    """Return the wall given, with its spread where one was noted, or else the usual walls."""
    wall_nanometres = inputs.length("wall")
    if wall_nanometres is None:
        return Walls(
            thin_nanometres=inputs.setting_length("sac.wall_thin"),
            nominal_nanometres=inputs.setting_length("sac.wall"),
            thick_nanometres=inputs.setting_length("sac.wall_thick"),
            given=False,
        )
    spread_nanometres = inputs.spread("wall") or 0
    return Walls(
        thin_nanometres=max(wall_nanometres - spread_nanometres, 0),
        nominal_nanometres=wall_nanometres,
        thick_nanometres=wall_nanometres + spread_nanometres,
        given=True,
    )


def stretch_percent(nipple_nanometres: int, inside_nanometres: Fraction | int) -> Fraction | None:
    """Return nipple / inside - 1 in percent; None where there is no hole to stretch."""
    if inside_nanometres <= 0:
        return None
    return Fraction(100 * (nipple_nanometres - inside_nanometres), inside_nanometres)


def stretch_of_diameter(nipple_nanometres: int, outside: Fraction | int, walls: Walls) -> Stretch:
    """Return the stretch of a sac of which only the outside is known, over the band of walls."""
    by_wall = [
        stretch_percent(nipple_nanometres, outside - 2 * wall_nanometres)
        for wall_nanometres in sorted((walls.thin_nanometres, walls.thick_nanometres))
    ]
    nominal = stretch_percent(nipple_nanometres, outside - 2 * walls.nominal_nanometres)
    return Stretch(least=by_wall[0], nominal=nominal, most=by_wall[1])


def stretch_of_size(nipple_nanometres: int, size: Fraction | int, walls: Walls) -> Stretch:
    """Return the stretch of a sac number taken at its nominal diameter."""
    return stretch_of_diameter(nipple_nanometres, diameter_nanometres(size), walls)


def is_overstretched(inputs: Inputs, percent: Fraction | None) -> bool:
    """Return whether the stretch is above the one refused; a sac without a hole always is."""
    return percent is None or percent > inputs.setting_number("sac.stretch_refused")


def grip_of(inputs: Inputs, percent: Fraction | None, material: str | None) -> Grip:
    """Return what the stretch means; any material but latex is taken to be stiff.

    The lower bands end below their bound, the upper ones with it: 5 % and 20 % are both good.
    """
    if percent is None or is_overstretched(inputs, percent):
        return Grip.REFUSED
    for grip, below in (
        (Grip.FALLS_OFF, 0),
        (Grip.LOOSE, inputs.setting_number("sac.stretch_loose")),
        (Grip.MARGINAL, inputs.setting_number("sac.stretch_marginal")),
    ):
        if percent < below:
            return grip
    if percent <= inputs.setting_number("sac.stretch_good"):
        return Grip.GOOD
    if percent > inputs.setting_number("sac.stretch_acceptable"):
        return Grip.TIGHT
    return Grip.ACCEPTABLE if material == "latex" else Grip.STIFF
