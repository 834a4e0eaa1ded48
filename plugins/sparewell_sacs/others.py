"""What the choices not taken would give: the other clearance, the other rule for the bar."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from sparewell.plugin import rounded, sixty_fourths
from sparewell_sacs.limits import TIMES_BY_RULE, floor_to_half, room_nanometres
from sparewell_sacs.sizing import Sizing
from sparewell_sacs.wording import size_number


@dataclass(frozen=True)
class OtherChoice:
    """The barrel's limit and the answer under another choice; no answer where nothing is left."""

    barrel_limit: Fraction
    half_size: Fraction | None

    def as_members(self) -> Mapping[str, object]:
        """Return the members as the result carries them."""
        return {
            "barrel_limit": rounded(self.barrel_limit, 2),
            "size": None if self.half_size is None else floor(self.half_size),
            "half_size": None if self.half_size is None else size_number(self.half_size),
        }


def with_other_clearance(sizing: Sizing) -> OtherChoice:
    """Return what no clearance, or all of it, would give."""
    clearance = sizing.readings.clearance
    return _other(
        sizing,
        times=sizing.readings.bar.times,
        clearance_nanometres=clearance.other_nanometres,
    )


def other_bar_rule(sizing: Sizing) -> str | None:
    """Return the name of the other rule, or None where no bar comes off."""
    return {"twice": "once", "once": "twice"}.get(sizing.readings.bar.rule)


def with_other_bar_rule(sizing: Sizing) -> OtherChoice | None:
    """Return what the other rule for the bar would give, or None with no bar."""
    rule = other_bar_rule(sizing)
    if rule is None:
        return None
    times, clearance = TIMES_BY_RULE[rule], sizing.readings.clearance
    return _other(
        sizing,
        times=times,
        clearance_nanometres=clearance.nanometres
        if clearance.given
        else clearance.by_default(
            times=times, bar_height_nanometres=sizing.readings.bar.height_nanometres
        ),
    )


def sizes_between_rules(sizing: Sizing) -> int:
    """Return by how many whole sizes the barrel's limit differs between the two bar rules."""
    other = with_other_bar_rule(sizing)
    return 0 if other is None else abs(floor(other.barrel_limit) - floor(sizing.barrel_limit))


def _other(sizing: Sizing, *, times: int, clearance_nanometres: int) -> OtherChoice:
    """Return the answer of the arithmetic with another bar factor and clearance."""
    readings = sizing.readings
    barrel_nanometres = room_nanometres(
        bore_nanometres=readings.bore.governing_nanometres,
        times=times,
        bar_height_nanometres=readings.bar.height_nanometres,
        clearance_nanometres=clearance_nanometres,
    )
    barrel_limit = sixty_fourths(barrel_nanometres)
    half_size = floor_to_half(min(barrel_limit, sizing.nipple_limit))
    return OtherChoice(barrel_limit, half_size if barrel_nanometres > 0 else None)
