"""The readings that several systems share: the instrument, how it is taken, what misleads.

Where the title and the way of taking it are left out, they are those of the calculator that takes
the reading. Sources: published repair guides; what is marked so is common practice, no source.
"""

from __future__ import annotations

from typing import Final

from sparewell.plugin import TemplateReading

_OUTSIDE_JAWS: Final = "outside jaws of a caliper, two directions"
_DEPTH_ROD: Final = "depth rod of a caliper"
_PLUG_GAUGES: Final = "plug gauges or drill shanks as go and no-go; else inside jaws"

BARREL_BORE: Final = TemplateReading(
    "barrel_bore",
    instrument=_PLUG_GAUGES,
    traps=(
        "the first 5 to 10 mm are often counterbored, and overstate (common practice, no source)",
        "a reading at the mouth ignores the bar",
        "what is left of the old sac shrinks the bore",
    ),
)
BAR_HEIGHT: Final = TemplateReading(
    "bar_height",
    instrument="depth gauge or feeler",
    traps=("a bent or rusted bar stands higher", "with its spring, where it is doubled"),
)
BAR_WIDTH: Final = TemplateReading("bar_width", instrument=_OUTSIDE_JAWS)
SLOT_WIDTH: Final = TemplateReading("slot_width", instrument="feelers or drill shanks")
NIPPLE: Final = TemplateReading(
    "nipple_diameter",
    instrument=_OUTSIDE_JAWS,
    traps=(
        "a broken, chipped or shellac-caked nipple: clean it first",
        "never trust the size that the last repairer chose",
    ),
)
BARREL_DEPTH: Final = TemplateReading(
    "barrel_depth",
    instrument=_DEPTH_ROD,
    traps=("to the crook where a J-bar sits, not to the closed end",),
)
TENON: Final = TemplateReading("tenon_length", instrument=_OUTSIDE_JAWS)
GUARD_BORE: Final = TemplateReading(
    "guard_bore",
    instrument=_PLUG_GAUGES,
    traps=("a dented guard is narrower further in", "the guard governs, not the barrel"),
)
ROD: Final = TemplateReading(
    "rod",
    instrument="micrometer",
    traps=("wear, rust and swollen coating: several places along the stroke",),
)
CAVITY: Final = TemplateReading(
    "bore",
    instrument=_PLUG_GAUGES,
    traps=(
        "the old packing must be out completely",
        "an old ring is flattened, swollen or shrunk: measure the cavity, not the corpse",
    ),
)
CAVITY_DEPTH: Final = TemplateReading(
    "seat_depth",
    instrument=_DEPTH_ROD,
    traps=("it says how many packings are stacked",),
)
FEED_HOLE: Final = TemplateReading(
    "feed_hole",
    title="Hole for the breather tube",
    instrument="drill shanks as go and no-go",
    how="The largest shank that slips into the hole at the back of the feed.",
    traps=("a stump of the old tube narrows it",),
)
BREATHER_LENGTH: Final = TemplateReading(
    "breather_length",
    title="Length of the breather tube",
    instrument=_DEPTH_ROD,
    how="From the floor of its hole to where it must end, near the back of the tank.",
    traps=("old tubes are often broken short: measure the tank",),
)
SPRING_READINGS: Final = (
    TemplateReading("wire_diameter", instrument="micrometer", traps=("rust comes off first",)),
    TemplateReading("outside_diameter", instrument=_OUTSIDE_JAWS),
    TemplateReading("total_coils", instrument="the eye, against a mark"),
    TemplateReading(
        "free_length", instrument=_DEPTH_ROD, traps=("an old spring may have set shorter",)
    ),
)
BARREL_READINGS: Final = (BARREL_BORE, BAR_HEIGHT, NIPPLE, BARREL_DEPTH, TENON)
GUARD_READINGS: Final = (GUARD_BORE, NIPPLE, BARREL_DEPTH, TENON)
