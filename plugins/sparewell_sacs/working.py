"""The working: every step with its numbers, so that it can be followed with a pencil."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor
from typing import Final

from sparewell.plugin import (
    Inputs,
    first_capital,
    length_in_all_units,
    length_text,
    millimetres_text,
    number_text,
    percent_text,
)
from sparewell_sacs.lengths import Lengths
from sparewell_sacs.limits import SacLimit, SizingOutcome
from sparewell_sacs.others import (
    OtherChoice,
    other_bar_rule,
    sizes_between_rules,
    with_other_bar_rule,
    with_other_clearance,
)
from sparewell_sacs.sizing import Sizing
from sparewell_sacs.stretch import Stretch, stretch_of_size
from sparewell_sacs.volume import Capacity
from sparewell_sacs.wording import READING_WORDS, a_size_text, size_text

_OUTCOMES: Final = {
    SizingOutcome.AGREE: "Barrel and nipple agree.",
    SizingOutcome.NIPPLE_LIMITS: "The nipple allows less than the barrel: a straight sac that "
    "suits the nipple holds less; a sleeve on the nipple or a necked sac holds more.",
    SizingOutcome.BARREL_LIMITS: "The barrel allows less than the nipple suggests.",
    SizingOutcome.CHECK_BARREL: "The barrel allows so much less than the nipple suggests that the "
    "barrel is to be checked first.",
}

_LIMITS: Final = {
    SacLimit.BARREL: "the barrel",
    SacLimit.NIPPLE: "the nipple",
    SacLimit.OVER_NIPPLE: "nothing that can be fitted: the sac over the nipple does not enter",
    SacLimit.TRY_IN: "what was tried in",
}


def working_of(
    inputs: Inputs, sizing: Sizing, lengths: Lengths, capacity: Capacity | None
) -> list[str]:
    """Return the steps in the order in which they are taken."""
    return [
        *_of_barrel(sizing),
        *_of_clearance(sizing),
        *_of_nipple(sizing),
        *_of_size(inputs, sizing),
        *_of_bar_rules(sizing),
        *_of_stretch(inputs, sizing),
        *_of_lengths(inputs, lengths),
        *_of_capacity(sizing, lengths, capacity),
    ]


def _of_barrel(sizing: Sizing) -> Iterator[str]:
    """Yield the bore, what stands in it, and what they leave."""
    readings = sizing.readings
    bore, bar = readings.bore, readings.bar
    name = first_capital(READING_WORDS[bore.name])
    yield f"{name}: {length_in_all_units(bore.mouth_nanometres)}."
    if bore.tail_nanometres is not None:
        yield (
            f"Bore at the tail: {length_in_all_units(bore.tail_nanometres)}; the "
            f"{READING_WORDS[bore.governing_name]} is the smaller and governs a straight sac."
            if bore.governing_name == "barrel_bore_tail"
            else f"Bore at the tail: {length_in_all_units(bore.tail_nanometres)}; it is no "
            "narrower, so the bore governs."
        )
    if not bar.times:
        yield f"Nothing comes off for a bar: {bar.how}."
    else:
        thing = "Ring wire" if bar.reading == "ring_wire" else "Bar"
        reason = (
            "the nipple holds the sac on the axis, so it comes off twice"
            if bar.rule == "twice"
            else "the sac may lie off centre, so it comes off once"
        )
        yield (
            f"{thing}: stands {length_in_all_units(bar.height_nanometres)} off the wall "
            f"({bar.how}); {reason}."
        )
    terms = [length_text(bore.governing_nanometres)]
    if bar.times:
        times = "2 x " if bar.times > 1 else ""
        terms.append(f"{times}{length_text(bar.height_nanometres)}")
    terms.append(length_text(readings.clearance.nanometres))
    yield (
        f"Barrel limit: {' - '.join(terms)} = {length_text(readings.room_nanometres)}, divided by "
        f"0.396875 mm = {number_text(sizing.barrel_limit, 2)}."
    )


def _of_clearance(sizing: Sizing) -> Iterator[str]:
    """Yield the clearance used, why, and what the other one would give."""
    readings = sizing.readings
    clearance = readings.clearance
    if clearance.given:
        why = "as asked for"
    elif readings.bar.times:
        why = _why_clearance(sizing)
    else:
        why = "the default with no bar"
    yield (
        f"Clearance on the diameter: {length_text(clearance.nanometres)}, {why}; "
        f"{length_text(clearance.other_nanometres)} would give "
        f"{_answer(with_other_clearance(sizing))}."
    )


def _why_clearance(sizing: Sizing) -> str:
    """Return how the default follows from the bar: what it brings of its own need not be added."""
    readings = sizing.readings
    clearance, bar = readings.clearance, readings.bar
    generous_text = length_text(clearance.generous_bar_nanometres)
    if bar.height_nanometres >= clearance.generous_bar_nanometres:
        return f"as a bar of {generous_text} or more leaves that much air itself"
    times = "2 x " if bar.times > 1 else ""
    return (
        f"which is {times}({generous_text} - {length_text(bar.height_nanometres)}), at most "
        f"{length_text(clearance.most_nanometres)}: the rest of the air the bar brings itself"
    )


def _of_nipple(sizing: Sizing) -> Iterator[str]:
    """Yield the nipple's own number and what a sac over it measures."""
    readings = sizing.readings
    yield (
        f"Nipple limit: {length_in_all_units(readings.nipple_nanometres)}; a sac of that number "
        "or lower."
    )
    verb = "enters" if sizing.enters else "does not enter"
    yield (
        f"Over the nipple {a_size_text(sizing.recommended)} with a wall of "
        f"{length_text(sizing.walls.nominal_nanometres)} at rest, thinner as it is stretched, "
        f"measures {millimetres_text(sizing.over_nipple_nanometres)}, which {verb} the "
        f"{READING_WORDS[readings.bore.name]} of {length_text(readings.bore.mouth_nanometres)}."
    )


def _of_size(inputs: Inputs, sizing: Sizing) -> Iterator[str]:
    """Yield the decision."""
    smaller = min(sizing.barrel_limit, sizing.nipple_limit)
    yield (
        f"The smaller limit is {number_text(smaller, 2)}: whole size "
        f"{floor(sizing.arithmetic_half_size)}, with half sizes "
        f"{size_text(sizing.arithmetic_half_size)}."
    )
    if sizing.tried is not None:
        yield f"Tried in: {size_text(sizing.tried)}, which counts for more than the arithmetic."
    else:
        yield f"Recommended: {size_text(sizing.recommended)}, {_why_recommended(inputs, sizing)}."
    yield f"The size rests on {_LIMITS[sizing.limited_by]}. {_OUTCOMES[sizing.outcome]}"


def _why_recommended(inputs: Inputs, sizing: Sizing) -> str:
    """Return why the whole size is recommended, or the half above it."""
    good_text = percent_text(inputs.setting_number("sac.stretch_good"))
    size = a_size_text(sizing.size)
    if sizing.recommended != sizing.size:
        return f"as {size} would be stretched more than {good_text} and the barrel takes the half"
    percent = sizing.stretch.nominal
    if percent is not None and percent <= inputs.setting_number("sac.stretch_good"):
        return f"as {size} is stretched no more than {good_text}"
    return f"as the barrel takes nothing above it; {size} is stretched more than {good_text}"


def _of_bar_rules(sizing: Sizing) -> Iterator[str]:
    """Yield what the other rule for the bar would give, where it makes a difference."""
    other = with_other_bar_rule(sizing)
    apart = sizes_between_rules(sizing)
    if other is not None and apart:
        yield (
            f"With the bar taken off {other_bar_rule(sizing)} the barrel limit would be "
            f"{number_text(other.barrel_limit, 2)} and the answer {_answer(other)}: {apart} whole "
            f"size{'s' if apart > 1 else ''} apart in the barrel."
        )


def _of_stretch(inputs: Inputs, sizing: Sizing) -> Iterator[str]:
    """Yield the stretch of the whole size, and of the half size where that is another."""
    walls = sizing.walls
    assumed = "the material asked for" if "material" in inputs else "assumed, as none was given"
    yield f"Material: {sizing.material}, {assumed}."
    band = (
        f"as given, {millimetres_text(walls.thin_nanometres)} to "
        f"{millimetres_text(walls.thick_nanometres)}"
        if walls.given
        else f"assumed, usual walls being {millimetres_text(walls.thin_nanometres)} to "
        f"{millimetres_text(walls.thick_nanometres)}"
    )
    yield f"Wall: {length_text(walls.nominal_nanometres)}, {band}."
    yield _stretch_sentence(sizing, sizing.stretch, a_size_text(sizing.size))
    if sizing.half_size != sizing.size:
        half = stretch_of_size(sizing.readings.nipple_nanometres, sizing.half_size, walls)
        yield _stretch_sentence(sizing, half, a_size_text(sizing.half_size))


def _stretch_sentence(sizing: Sizing, stretch: Stretch, size: str) -> str:
    """Return one sentence on the stretch of one size."""
    nipple = length_text(sizing.readings.nipple_nanometres)
    if stretch.nominal is None:
        return f"Stretch: {size} has no hole left with such a wall."
    least = "none" if stretch.least is None else percent_text(stretch.least)
    most = "no end" if stretch.most is None else percent_text(stretch.most)
    return (
        f"Stretch: {nipple} over the inside of {size} is {percent_text(stretch.nominal)} "
        f"({least} to {most} by wall)."
    )


def _of_lengths(inputs: Inputs, lengths: Lengths) -> Iterator[str]:
    """Yield how the sac is cut, or what is missing for it."""
    if lengths.depth_nanometres is None:
        yield "Length: not worked out, since the barrel's depth was not given."
        return
    depth, gap = length_text(lengths.depth_nanometres), length_text(lengths.end_gap_nanometres)
    if lengths.cut_nanometres is None or lengths.tenon_nanometres is None:
        yield (
            f"Length: {depth} - {gap} at the end leave at most "
            f"{length_text(lengths.at_most_nanometres or 0)}; the tenon's length is needed to cut."
        )
        return
    yield (
        f"Length: {depth} - {length_text(lengths.tenon_nanometres)} of tenon - {gap} at the end, "
        f"in whole millimetres = {length_text(lengths.cut_nanometres)}, from the nipple's "
        "shoulder to the sac's tip; what lies over the nipple is in it."
    )
    nipple_length_nanometres = inputs.length("nipple_length")
    if nipple_length_nanometres is not None:
        free_nanometres = lengths.cut_nanometres - nipple_length_nanometres
        yield f"Of it {length_text(free_nanometres)} hang free behind the nipple."


def _of_capacity(sizing: Sizing, lengths: Lengths, capacity: Capacity | None) -> Iterator[str]:
    """Yield the volume and what fills."""
    if capacity is None or lengths.for_volume_nanometres is None:
        return
    length = length_text(lengths.for_volume_nanometres)
    upper = (
        " (an upper figure: the tenon is not taken off)" if lengths.cut_nanometres is None else ""
    )
    yield (
        f"Volume: the hole of {a_size_text(sizing.size)}, {length} long, holds "
        f"{number_text(capacity.millilitres, 2)} ml{upper}; "
        f"{number_text(capacity.low_millilitres, 2)} to "
        f"{number_text(capacity.high_millilitres, 2)} ml of it are likely to fill."
    )


def _answer(other: OtherChoice) -> str:
    """Return the answer of a choice not taken."""
    if other.half_size is None:
        return "nothing at all"
    return size_text(other.half_size)
