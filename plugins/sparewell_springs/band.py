"""How far off the rate may be, from how far off the readings may be.

The rate is monotone in each reading, so its extremes lie at the corners. Read from outside, the
mean diameter moves with the wire, and both must move together.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Inputs
from sparewell_springs.mechanics import rate
from sparewell_springs.readings import Spring


@dataclass(frozen=True)
class RateBand:
    """The least and the most the rate may be; no most where the readings leave no coil at all."""

    least: Fraction
    most: Fraction | None
    wire_spread_nanometres: int
    diameter_spread_nanometres: int
    noted: bool  # whether the spreads were noted with the readings


def rate_of(spring: Spring) -> Fraction:
    """Return the nominal rate in newtons per millimetre."""
    return _rate(spring, spring.wire_nanometres, spring.mean_nanometres)


def band_of(inputs: Inputs, spring: Spring) -> RateBand:
    """Return the band of the rate.

    Where a spread was noted with either reading, the noted ones are used, and a reading without
    one is taken as it stands; where none was, the settings are used.
    """
    wire_spread = inputs.spread("wire_diameter")
    diameter_spread = inputs.spread(spring.diameter_name)
    noted = wire_spread is not None or diameter_spread is not None
    if not noted:
        wire_spread = inputs.setting_length("spring.wire_uncertainty")
        diameter_spread = inputs.setting_length("spring.diameter_uncertainty")
    wire_spread, diameter_spread = wire_spread or 0, diameter_spread or 0
    thin, thick = spring.wire_nanometres - wire_spread, spring.wire_nanometres + wire_spread
    least = _with(spring, thin, diameter_spread) if thin > 0 else Fraction(0)
    return RateBand(
        least=Fraction(0) if least is None else least,
        most=_with(spring, thick, -diameter_spread),
        wire_spread_nanometres=wire_spread,
        diameter_spread_nanometres=diameter_spread,
        noted=noted,
    )


def _with(spring: Spring, wire: int, diameter_change: int) -> Fraction | None:
    """Return the rate with another wire and diameter, or None where no coil is left."""
    mean = spring.mean_nanometres + diameter_change
    if spring.diameter_name == "outside_diameter":
        mean += spring.wire_nanometres - wire
    return _rate(spring, wire, mean) if mean > wire else None


def _rate(spring: Spring, wire_nanometres: int, mean_nanometres: int) -> Fraction:
    """Return the rate of this spring with another wire and mean diameter."""
    return rate(
        wire=Fraction(wire_nanometres, NANOMETRES_PER_MILLIMETRE),
        mean=Fraction(mean_nanometres, NANOMETRES_PER_MILLIMETRE),
        active_coils=spring.active_coils,
        shear_modulus_gpa=spring.shear_modulus_gpa,
    )
