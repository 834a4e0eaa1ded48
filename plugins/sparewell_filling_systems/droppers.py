"""Pens that hold their ink in the barrel itself and are filled with a dropper."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import FillingSystem, Step, TemplateNeed, TemplateReading
from sparewell_filling_systems.common import (
    FIND_THE_HAND,
    LEAK_TEST,
    MOST_PACKINGS,
    ROD_OF_METAL,
    SOURCES,
    STAND_NIB_DOWN,
    WARM_SECTION,
    WASH,
)
from sparewell_filling_systems.readings import CAVITY, CAVITY_DEPTH, ROD

_JOINT_RING: Final = TemplateNeed(
    kind="o_ring",
    seals_where="section thread, between shoulder and barrel mouth",
    calculator="o_ring",
    optional=True,
    given={"gland": "face", "duty": "static", "grease": "silicone"},
    reads={"groove_diameter": "section_thread", "groove_depth": "joint_gap"},
    decided_when_open=True,
    note="None where grease alone is to seal, as it was made; else one ring.",
)
_JOINT_READINGS: Final = (
    TemplateReading(
        "section_thread",
        title="Thread of the section, outside",
        instrument="outside jaws of a caliper, two directions",
        how="Over the crests of the thread, clean of old grease and shellac.",
    ),
    TemplateReading(
        "joint_gap",
        title="Gap left between shoulder and barrel",
        instrument="feelers",
        how="Between the section's shoulder and the barrel's mouth when they are screwed home.",
        traps=("without a step or recess there is no gap, and a ring holds the joint open",),
    ),
)
_GREASE_JOINT: Final = Step("seal", "silicone grease", "on the section's thread, sparingly")

EYEDROPPER: Final = FillingSystem(
    name="eyedropper",
    title="eyedropper",
    needs=(_JOINT_RING,),
    readings=_JOINT_READINGS,
    consumables=("silicone grease",),
    steps=(FIND_THE_HAND, WASH, Step("fit", None, "the ring, if any"), _GREASE_JOINT),
    tests=(LEAK_TEST,),
    sources=SOURCES,
    notes=("Nearly empty and warmed by the hand it blobs: that is no leak of the joint.",),
)

SHUT_OFF: Final = FillingSystem(
    name="eyedropper_shut_off",
    title="eyedropper with shut-off rod",
    needs=(
        TemplateNeed(
            kind="gasket",
            seals_where="round the rod, at the tail",
            calculator="packing",
            at_most=MOST_PACKINGS,
            decided_when_open=True,
        ),
        TemplateNeed(
            kind="gasket",
            seals_where="valve seat behind the feed",
            calculator="gasket",
            optional=True,
            given={"mode": "washer"},
            reads={
                "bore": "valve_seat",
                "rod": "valve_seat_hole",
                "seat_depth": "valve_seat_depth",
            },
            decided_when_open=True,
            note="Where the seat has a washer of its own.",
        ),
        _JOINT_RING,
        ROD_OF_METAL,
    ),
    readings=(
        ROD,
        CAVITY,
        CAVITY_DEPTH,
        TemplateReading(
            "valve_seat",
            title="Valve seat behind the feed",
            instrument="plug gauges or drill shanks",
            how="Inside diameter of the recess that the valve's washer lies in.",
        ),
        TemplateReading(
            "valve_seat_hole",
            title="What goes through the valve's washer",
            instrument="micrometer",
            how="Outside diameter of the rod's end, or of the hole's edge it stands on.",
        ),
        TemplateReading(
            "valve_seat_depth",
            title="Depth of the valve seat",
            instrument="depth rod of a caliper",
            how="From the face to the floor of the recess.",
        ),
        TemplateReading(
            "rod_length",
            title="Length of the rod",
            instrument="steel rule or depth rod",
            how="From the knob to the end that shuts the feed.",
        ),
        *_JOINT_READINGS,
    ),
    consumables=("silicone grease",),
    steps=(
        WARM_SECTION,
        FIND_THE_HAND,
        Step("unscrew", None, "knob and packing closure, often left-hand"),
        Step("dig_out", None, "pick the old packing out of its cavity completely"),
        WASH,
        Step("fit", None, "packing over the rod, not folded; the washer of the valve"),
        _GREASE_JOINT,
        STAND_NIB_DOWN,
    ),
    tests=(LEAK_TEST,),
    sources=SOURCES,
    notes=("Test it twice: with the rod shut, and with it open.",),
)

DROPPERS: Final = (EYEDROPPER, SHUT_OFF)
