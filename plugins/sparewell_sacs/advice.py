"""What else would do: smaller sacs, larger ones, and other ways than a straight sac."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import floor

from sparewell.plugin import Inputs, millimetres_text, percent_text, rounded, sixty_fourths
from sparewell_sacs.limits import (
    HALF,
    SizingOutcome,
    diameter_nanometres,
    floor_to_half,
    over_nipple_nanometres,
)
from sparewell_sacs.readings import Readings
from sparewell_sacs.sizing import Sizing
from sparewell_sacs.stretch import (
    Grip,
    grip_of,
    is_overstretched,
    stretch_of_size,
    stretch_percent,
)
from sparewell_sacs.wording import a_size_text, size_number, size_text

Entry = Mapping[str, object]


def substitutes_of(inputs: Inputs, sizing: Sizing) -> list[Entry]:
    """Return the next half and whole size below, unless they are stretched too far."""
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
        return []
    entries = []
    for size in (sizing.recommended - HALF, sizing.recommended - 1):
        percent = stretch_of_size(sizing.readings.nipple_nanometres, size, sizing.walls).nominal
        if percent is not None and not is_overstretched(inputs, percent):
            why = f"goes in with more air; stretched {percent_text(percent)} over the nipple"
            if percent > inputs.setting_number("sac.stretch_acceptable"):
                why += ", which is tight"
            entries.append(_sized(size, percent, why))
    return entries


def also_possible_of(inputs: Inputs, sizing: Sizing) -> list[Entry]:
    """Return sizes above what is recommended that the barrel takes and that still grip.

    A size that was tried in is the largest that goes in, so nothing is above it.
    """
    if sizing.outcome is SizingOutcome.CHECK_BARREL or sizing.tried is not None:
        return []
    entries = []
    marginal_percent = inputs.setting_number("sac.stretch_marginal")
    size = sizing.recommended + HALF
    while size <= sizing.barrel_limit:
        percent = stretch_of_size(sizing.readings.nipple_nanometres, size, sizing.walls).nominal
        if percent is not None and percent < marginal_percent:
            break
        if percent is not None and not is_overstretched(inputs, percent):
            how = (
                "above the nipple's own number, but the barrel takes it"
                if size > sizing.nipple_limit
                else "the barrel takes it, with less air"
            )
            why = f"{how} and it is still stretched {percent_text(percent)}"
            entries.append(_sized(size, percent, why))
        size += HALF
    return entries


def preferred_above(sizing: Sizing) -> Fraction | None:
    """Return the next half size up if the barrel takes it."""
    above = sizing.size + HALF
    return above if above <= sizing.barrel_takes else None


def alternatives_of(inputs: Inputs, sizing: Sizing) -> list[Entry]:
    """Return what can be done instead of fitting the straight sac."""
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
        return [
            _other(
                "check_the_barrel",
                None,
                "before any sac is chosen: old sac stuck in the barrel narrows it, and a bent, "
                "doubled or wrong bar stands too high",
            )
        ]
    entries = [*_for_a_small_nipple(inputs, sizing), *_for_a_tapered_barrel(inputs, sizing)]
    if sizing.outcome is SizingOutcome.BARREL_LIMITS:
        entries.extend(_for_a_high_bar(sizing))
    if not sizing.enters:
        entries.extend(_for_a_thick_joint(sizing))
    return entries


def sleeved_half_size(sizing: Sizing) -> Fraction:
    """Return the half size once a ring cut from a smaller sac thickens the nipple."""
    return floor_to_half(min(sizing.barrel_takes, sixty_fourths(sizing.sleeved_nanometres)))


def _for_a_small_nipple(inputs: Inputs, sizing: Sizing) -> list[Entry]:
    """Return what lets a small nipple carry a larger sac, or hold a loose one."""
    grip = grip_of(inputs, sizing.stretch.nominal, sizing.material)
    slides = grip in {Grip.FALLS_OFF, Grip.LOOSE, Grip.MARGINAL}
    entries: list[Entry] = []
    if sizing.outcome is not SizingOutcome.NIPPLE_LIMITS and not slides:
        return entries
    sleeved = sleeved_half_size(sizing)
    sleeved_nanometres = sizing.sleeved_nanometres
    percent = stretch_percent(
        sleeved_nanometres,
        diameter_nanometres(floor(sleeved)) - 2 * sizing.walls.nominal_nanometres,
    )
    why = (
        "one ring cut from a smaller sac, put on first, makes the nipple about "
        f"{millimetres_text(sleeved_nanometres)}: then {a_size_text(floor(sleeved))}"
        f"{_or_half(sleeved)} suits it"
    )
    if percent is not None:
        why += f", stretched {percent_text(percent)}"
    outside_nanometres = diameter_nanometres(floor(sleeved))
    doubled_nanometres = over_nipple_nanometres(
        nipple_nanometres=sleeved_nanometres,
        outside_nanometres=outside_nanometres,
        inside_nanometres=outside_nanometres - 2 * sizing.walls.nominal_nanometres,
    )
    if doubled_nanometres >= sizing.readings.bore.mouth_nanometres:
        why += (
            f"; ring and sac together measure {millimetres_text(doubled_nanometres)} and do not "
            "go into the bore, so use a thinner ring"
        )
    entries.append(_other("sleeve_the_nipple", Fraction(floor(sleeved)), why))
    if sizing.outcome is SizingOutcome.NIPPLE_LIMITS:
        largest = floor(inputs.setting_number("sac.largest_sold"))
        body = min(floor(sizing.barrel_takes), largest)
        entries.append(
            _other(
                "necked_sac",
                Fraction(body),
                f"a necked sac with a body of {body - 1} to {body} fills the barrel while its "
                f"neck suits a nipple of {millimetres_text(sizing.readings.nipple_nanometres)}",
            )
        )
    if slides:
        entries.append(
            _other(
                "whip_with_thread",
                sizing.half_size,
                "so little stretch slides: a whipping of thread over the sac holds it on",
            )
        )
    return entries


def _for_a_tapered_barrel(inputs: Inputs, sizing: Sizing) -> list[Entry]:
    """Return the tapered sac, where the tail is much narrower than the mouth."""
    readings = sizing.readings
    tail_nanometres = readings.bore.tail_nanometres
    tail_room_nanometres = readings.tail_room_nanometres
    if tail_nanometres is None or tail_room_nanometres is None:
        return []
    narrower_by = readings.bore.mouth_nanometres - tail_nanometres
    if narrower_by < inputs.setting_length("sac.taper_difference"):
        return []
    at_mouth = sixty_fourths(min(readings.mouth_room_nanometres, readings.nipple_nanometres))
    return [
        _other(
            "tapered_sac",
            floor_to_half(at_mouth),
            f"the barrel is {millimetres_text(narrower_by)} narrower at the tail: a tapered sac, "
            f"{size_text(floor_to_half(at_mouth))} at the mouth and at most "
            f"{millimetres_text(tail_room_nanometres)} outside at its tip, uses the wider part",
        )
    ]


def _for_a_high_bar(sizing: Sizing) -> list[Entry]:
    """Return the height a bar may have for the sac that the nipple suits."""
    readings = sizing.readings
    if not readings.bar.times or sizing.tried is not None:
        return []
    wanted = floor(sizing.nipple_limit)
    height_nanometres = _height_that_leaves(readings, diameter_nanometres(wanted))
    if height_nanometres <= 0:
        return []
    return [
        _other(
            "lower_bar",
            Fraction(wanted),
            f"the nipple suits {a_size_text(wanted)}; it goes in beside a bar that stands no more "
            f"than {millimetres_text(height_nanometres)} off the wall, with its clearance: is this "
            "one bent or doubled?",
        )
    ]


def _height_that_leaves(readings: Readings, diameter: Fraction) -> Fraction:
    """Return the height at which a bar, with the clearance that goes with it, leaves so much."""
    clearance, times = readings.clearance, readings.bar.times
    left_nanometres = readings.bore.governing_nanometres - diameter
    if clearance.given:
        return (left_nanometres - clearance.nanometres) / times
    if left_nanometres >= times * clearance.generous_bar_nanometres:
        return left_nanometres / times
    return (left_nanometres - clearance.most_nanometres) / times


def _for_a_thick_joint(sizing: Sizing) -> list[Entry]:
    """Return what helps where the sac on the nipple does not enter the bore."""
    return [
        _other(
            "thinner_wall",
            sizing.half_size,
            f"only a wall under {millimetres_text(sizing.thickest_wall_nanometres)} goes into the "
            "bore over this nipple",
        ),
        _other(
            "measure_again",
            None,
            "measure nipple and bore again, clean of old shellac and old sac",
        ),
    ]


def _or_half(size: Fraction) -> str:
    """Return " or 17½" where the half above the whole size fits as well."""
    return f" or {size_text(size)}" if size % 1 else ""


def _sized(size: Fraction, percent: Fraction, why: str) -> Entry:
    """Return one size with its stretch and its reason."""
    return {"size": size_number(size), "stretch_percent": rounded(percent, 1), "why": why}


def _other(do: str, size: Fraction | None, why: str) -> Entry:
    """Return one alternative with its reason."""
    return {"do": do, "size": None if size is None else size_number(size), "why": why}
