"""The size for one set of inputs: what the calculator, the fit and the drawing all rest on."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import floor

from sparewell.plugin import ImpossibleInput, Inputs, sixty_fourths, worked_out_once
from sparewell_sacs.limits import (
    HALF,
    SacLimit,
    SizingOutcome,
    diameter_nanometres,
    floor_to_half,
    outcome_of,
    over_nipple_nanometres,
    thickest_wall_nanometres,
)
from sparewell_sacs.readings import Readings, readings_of
from sparewell_sacs.stretch import Stretch, Walls, is_overstretched, stretch_of_size, walls_of


@dataclass(frozen=True)
class Sizing:
    """The answer in numbers. `tried` is the size that was tried in, which beats the arithmetic."""

    readings: Readings
    walls: Walls
    material: str
    barrel_limit: Fraction
    nipple_limit: Fraction
    arithmetic_half_size: Fraction
    tried: Fraction | None
    half_size: Fraction
    stretch: Stretch
    outcome: SizingOutcome
    over_nipple_nanometres: int
    recommended: Fraction

    @property
    def size(self) -> int:
        """Return the whole size."""
        return floor(self.half_size)

    @cached_property
    def recommended_halves(self) -> Fraction | int:
        """Return the size recommended, counted in halves; whole unless an odd size was tried in."""
        halves = 2 * self.recommended
        return int(halves) if halves.denominator == 1 else halves

    @property
    def barrel_takes(self) -> Fraction:
        """Return the largest number known to go in: the one tried in, else the barrel limit."""
        return self.barrel_limit if self.tried is None else self.tried

    @property
    def enters(self) -> bool:
        """Return whether the sac, pulled over the nipple, goes into the bore."""
        return self.over_nipple_nanometres < self.readings.bore.mouth_nanometres

    @property
    def sleeved_nanometres(self) -> int:
        """Return about what the nipple measures with a ring of a smaller sac put on first."""
        return self.readings.nipple_nanometres + 2 * self.walls.nominal_nanometres

    @property
    def thickest_wall_nanometres(self) -> int:
        """Return the wall at rest that the size recommended must stay under to go in."""
        return thickest_wall_nanometres(
            bore_nanometres=self.readings.bore.mouth_nanometres,
            nipple_nanometres=self.readings.nipple_nanometres,
            outside_nanometres=diameter_nanometres(self.recommended),
        )

    @property
    def limited_by(self) -> SacLimit:
        """Return what the size rests on; where barrel and nipple are equal it is the nipple."""
        if self.tried is not None:
            return SacLimit.TRY_IN
        if not self.enters and self.outcome is not SizingOutcome.CHECK_BARREL:
            return SacLimit.OVER_NIPPLE
        return SacLimit.BARREL if self.barrel_limit < self.nipple_limit else SacLimit.NIPPLE

    @property
    def ideal_nanometres(self) -> int:
        """Return the outside diameter to look for first."""
        return floor(diameter_nanometres(self.recommended))


@worked_out_once
def sizing_of(inputs: Inputs) -> Sizing:
    """Return the sizing, or raise ImpossibleInput."""
    readings = readings_of(inputs)
    walls = walls_of(inputs)
    barrel_limit = sixty_fourths(readings.room_nanometres)
    nipple_limit = sixty_fourths(readings.nipple_nanometres)
    arithmetic_half_size = floor_to_half(min(barrel_limit, nipple_limit))
    tried = _tried_of(inputs)
    half_size = arithmetic_half_size if tried is None else tried
    stretch = stretch_of_size(readings.nipple_nanometres, floor(half_size), walls)
    recommended = _recommended(inputs, half_size, barrel_limit, stretch) if tried is None else tried
    outside_nanometres = diameter_nanometres(recommended)
    return Sizing(
        readings=readings,
        walls=walls,
        material=inputs.text("material") or inputs.setting_text("sac.material"),
        barrel_limit=barrel_limit,
        nipple_limit=nipple_limit,
        arithmetic_half_size=arithmetic_half_size,
        tried=tried,
        half_size=half_size,
        stretch=stretch,
        outcome=outcome_of(
            barrel_size=floor(barrel_limit if tried is None else tried),
            nipple_size=floor(nipple_limit),
            overstretched=is_overstretched(inputs, stretch.nominal),
            check_barrel_sizes=floor(inputs.setting_number("sac.check_barrel_sizes")),
            limits_apart_sizes=floor(inputs.setting_number("sac.limits_apart_sizes")),
        ),
        over_nipple_nanometres=over_nipple_nanometres(
            nipple_nanometres=readings.nipple_nanometres,
            outside_nanometres=outside_nanometres,
            inside_nanometres=outside_nanometres - 2 * walls.nominal_nanometres,
        ),
        recommended=recommended,
    )


def _recommended(
    inputs: Inputs, half_size: Fraction, barrel_limit: Fraction, stretch: Stretch
) -> Fraction:
    """Return what to take: the whole size, or the half above it where that is stretched too much.

    The half has to go into the barrel. What was tried in needs no such rule: the fact beats it.
    """
    whole = Fraction(floor(half_size))
    good_percent = inputs.setting_number("sac.stretch_good")
    is_at_ease = stretch.nominal is not None and stretch.nominal <= good_percent
    return whole if is_at_ease or whole + HALF > barrel_limit else whole + HALF


def half_size_of(inputs: Inputs) -> Fraction | None:
    """Return the half size the arithmetic gives, or None for readings that cannot be true."""
    try:
        readings = readings_of(inputs)
    except ImpossibleInput:
        return None
    smaller_nanometres = min(readings.room_nanometres, readings.nipple_nanometres)
    return floor_to_half(sixty_fourths(smaller_nanometres))


def _tried_of(inputs: Inputs) -> Fraction | None:
    """Return the size tried in; sacs are numbered by halves."""
    tried = inputs.number("try_in")
    if tried is not None and tried % HALF:
        raise ImpossibleInput(
            ("try_in", "Sacs are numbered by halves: give the size tried in as 15 or 15.5.")
        )
    return tried
