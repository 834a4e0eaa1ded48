"""What is said beside the answer: warnings about these readings, cautions about the work."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor
from typing import Final

from sparewell.plugin import Inputs, first_capital, length_text, millimetres_text, percent_text
from sparewell_sacs.advice import preferred_above
from sparewell_sacs.limits import SizingOutcome, diameter_nanometres
from sparewell_sacs.others import other_bar_rule, sizes_between_rules
from sparewell_sacs.sizing import Sizing
from sparewell_sacs.stretch import Grip, grip_of, stretch_of_size
from sparewell_sacs.wording import a_size_text, size_text

CHECK_BARREL: Final = (
    "Is old sac still stuck in the barrel? Is the bar bent, doubled, or the wrong one?"
)

_CAUTIONS_ALWAYS: Final = (
    (
        "Picks and blades for digging out an old sac are sharp: cut away from the hand, and "
        "do not scratch the barrel."
    ),
    (
        "Shellac and its alcohol are flammable: no flame and no hot air near them; alcohol "
        "dissolves celluloid."
    ),
    "The safety sheets of the products in use come before anything said here.",
)

_CAUTIONS_BY_MATERIAL: Final = {
    "latex": (
        (
            "Latex can cause allergy, from a rash to asthma: wear gloves, breathe no powder, and "
            "tell the owner that latex was fitted."
        ),
        (
            "Risk: latex gives off sulphur compounds as it ages, which may stain pale celluloid, "
            "most of all in a tightly closed barrel. Silicone avoids it."
        ),
    ),
    "silicone": (
        (
            "Shellac does not bond to silicone: use a silicone adhesive, or shellac and a whipping "
            "of thread."
        ),
        (
            "Silicone adhesive gives off acetic acid while it cures: air the room, and let the "
            "parts cure apart from metal."
        ),
    ),
    "pvc": (
        (
            "Soft PVC gives off plasticiser that melts celluloid and polystyrene: never leave them "
            "touching, and do not fit it to a plastic nipple."
        ),
    ),
}


def cautions_of(sizing: Sizing) -> tuple[str, ...]:
    """Return the cautions for the material and for the work."""
    return (*_CAUTIONS_BY_MATERIAL.get(sizing.material, ()), *_CAUTIONS_ALWAYS)


def warnings_of(inputs: Inputs, sizing: Sizing) -> tuple[str, ...]:
    """Return every warning, the gravest first."""
    return (
        *_of_outcome(sizing),
        *_of_try_in(sizing),
        *_of_stretch(inputs, sizing),
        *_of_size(inputs, sizing),
        *_of_material(sizing),
        *_of_readings(inputs, sizing),
    )


def _of_outcome(sizing: Sizing) -> Iterator[str]:
    """Yield what stands in the way of any sac at all."""
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
        stretched = sizing.stretch.nominal
        much = (
            ""
            if stretched is None
            else f", and {a_size_text(sizing.size)} would be stretched {percent_text(stretched)}"
        )
        yield (
            f"The barrel takes {a_size_text(floor(sizing.barrel_takes))}, the nipple suits "
            f"{a_size_text(floor(sizing.nipple_limit))}{much}: check the barrel before "
            f"any sac is chosen. {CHECK_BARREL}"
        )
    if not sizing.enters:
        bore = sizing.readings.bore
        yield (
            f"{first_capital(a_size_text(sizing.recommended))} with a wall of "
            f"{millimetres_text(sizing.walls.nominal_nanometres)} does not go in: over the nipple "
            f"it measures {millimetres_text(sizing.over_nipple_nanometres)}, and the "
            f"{'guard' if bore.in_guard else 'bore'} is "
            f"{millimetres_text(bore.mouth_nanometres)}. A wall under "
            f"{millimetres_text(sizing.thickest_wall_nanometres)} would; or measure both again."
        )
    rule = other_bar_rule(sizing)
    apart = sizes_between_rules(sizing)
    if sizing.readings.bar.rule == "once" and apart:
        yield (
            f"The two rules for the bar differ by {_count(apart)}: taken off {rule} it gives less. "
            "Once is right only where the sac may lie off centre."
        )


def _of_try_in(sizing: Sizing) -> Iterator[str]:
    """Yield what a try-in changes."""
    tried = sizing.tried
    if tried is None:
        return
    yield (
        f"{first_capital(a_size_text(tried))} was tried in, which overrides the arithmetic: that "
        f"gave {size_text(sizing.arithmetic_half_size)} (the barrel leaves "
        f"{millimetres_text(sizing.readings.room_nanometres)})."
    )
    if diameter_nanometres(tried) >= sizing.readings.bore.mouth_nanometres:
        yield (
            f"{first_capital(a_size_text(tried))} is nominally "
            f"{millimetres_text(diameter_nanometres(tried))}, wider than the bare bore: "
            "measure the bore and the sac again."
        )
    if tried > sizing.nipple_limit:
        yield (
            f"{first_capital(a_size_text(tried))} is above the nipple's own number, "
            f"{floor(sizing.nipple_limit)}: check that it grips."
        )


def _of_stretch(inputs: Inputs, sizing: Sizing) -> Iterator[str]:
    """Yield what the stretch of the recommended whole size means."""
    percent = sizing.stretch.nominal
    if percent is None or sizing.outcome is SizingOutcome.CHECK_BARREL:
        return
    grip = grip_of(inputs, percent, sizing.material)
    sac = first_capital(a_size_text(sizing.size))
    so_much = f"{sac} is stretched {percent_text(percent)} over the nipple"
    above = preferred_above(sizing)
    prefer = "" if above is None else f" Prefer the {size_text(above)}, which the barrel takes."
    if grip is Grip.TIGHT:
        yield f"{so_much}, which is tight.{prefer or ' Nothing larger goes into the barrel.'}"
    elif grip is Grip.STIFF:
        yield f"{so_much}: tight for {sizing.material}.{prefer}"
    elif grip is Grip.ACCEPTABLE and above is not None:
        yield f"{so_much}: high, but latex bears it.{prefer}"
    elif grip is Grip.MARGINAL:
        yield f"{so_much}: a marginal grip."
    elif grip in {Grip.LOOSE, Grip.FALLS_OFF}:
        yield f"{so_much}: it slides on and will creep off without a sleeve or a whipping."


def _of_size(inputs: Inputs, sizing: Sizing) -> Iterator[str]:
    """Yield what is unusual about the size itself."""
    smallest = floor(inputs.setting_number("sac.smallest_sold"))
    largest = floor(inputs.setting_number("sac.largest_sold"))
    if sizing.half_size < smallest:
        yield (
            f"Nothing is sold in this range: the answer is {size_text(sizing.half_size)}, and "
            f"sacs start at {smallest}."
        )
    if sizing.half_size > largest:
        walls_nanometres = 2 * sizing.walls.nominal_nanometres
        share = (
            (diameter_nanometres(largest) - walls_nanometres)
            / (diameter_nanometres(sizing.half_size) - walls_nanometres)
        ) ** 2
        grip_percent = stretch_of_size(
            sizing.readings.nipple_nanometres, largest, sizing.walls
        ).nominal
        stretched = (
            "" if grip_percent is None else f" and is stretched {percent_text(grip_percent)}"
        )
        yield (
            f"Nothing is sold in this range: the answer is {size_text(sizing.half_size)}, and "
            f"sacs end at {largest}, which holds {percent_text(100 - share * 100)} less{stretched}."
        )
    soft_from = floor(inputs.setting_number("sac.soft_from"))
    if sizing.material == "latex" and sizing.half_size >= soft_from:
        yield (
            f"From {soft_from} up latex can be too soft for its size: it gives way as ink is drawn "
            "out or moves about."
        )


def _of_material(sizing: Sizing) -> Iterator[str]:
    """Yield what the material asked for brings with it."""
    if sizing.material != "silicone":
        return
    if sizing.readings.bore.in_guard:
        yield (
            "Silicone inside a guard is refused unless a person overrides it with a reason: a "
            "pneumatic filler needs a flimsy wall, and latex has it."
        )
    if not sizing.walls.given:
        yield "Silicone walls are usually thicker than latex: measure the wall and give it."


def _of_readings(inputs: Inputs, sizing: Sizing) -> Iterator[str]:
    """Yield what was assumed, doubtful, or given and not used."""
    bar = sizing.readings.bar
    if bar.reading == "default":
        yield (
            f"No bar was measured: {length_text(bar.height_nanometres)} is assumed. Measure how "
            "far the highest thing stands off the wall, or say that no bar is in the way."
        )
    taken_at_nanometres = inputs.length("barrel_bore_at")
    if taken_at_nanometres is not None and not sizing.readings.bore.in_guard:
        least_nanometres = inputs.setting_length("sac.bore_depth")
        if taken_at_nanometres < least_nanometres:
            yield (
                f"The bore was taken at {length_text(taken_at_nanometres)}: the mouth is often "
                "counterbored and wider than the rest. Measure "
                f"{length_text(least_nanometres)} or deeper."
            )
    yield from sizing.readings.ignored
    if "old_sac" in inputs:
        yield (
            f"The old sac ({inputs.text('old_sac')}) is noted and not relied on: never trust a "
            "previous repairer's choice."
        )


def _count(sizes: int) -> str:
    """Return a count of sizes in words where it is small."""
    words = {1: "one size", 2: "two sizes", 3: "three sizes"}
    return words.get(sizes, f"{sizes} sizes")
