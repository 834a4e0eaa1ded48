"""Systems that squeeze the sac in its guard by pressed air."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sparewell.plugin import FillingSystem, Step, TemplateNeed, TemplateReading, TemplateTest
from sparewell_filling_systems.common import (
    DIG_OUT_SAC,
    FINAL_TESTS,
    NO_BAR,
    SAC,
    SAC_ON,
    SAC_TESTS,
    SOURCES,
    SPRING_UNDER_LOAD,
    WARM_SECTION,
    WASH,
    coil_spring,
)
from sparewell_filling_systems.readings import CAVITY, GUARD_READINGS, ROD, SPRING_READINGS

_TOGETHER: Final = "sac and tail ring"
_SAC: Final = replace(
    SAC,
    given=NO_BAR,
    together=_TOGETHER,
    note="Latex with a thin wall; the tip reaches the end of the guard without pushing on it.",
)
# The tail ring packs the tube where it passes through the barrel's end.
_TAIL_RING: Final = TemplateNeed(
    kind="o_ring",
    seals_where="moving tube through the barrel's tail",
    calculator="o_ring",
    given={"gland": "rod", "duty": "moving", "grease": "silicone"},
    together=_TOGETHER,
    note="Either has failed: where the last date is not known, both are changed.",
)
_CONSUMABLES: Final = ("silicone grease", "thread sealant", "shellac", "talc")
_PRESSURE_STEP: Final = Step(
    "pressure_test", None, "close the tube's hole, press the tube down: it resists to the end"
)
_PRESSURE_TEST: Final = TemplateTest(
    name="pressure",
    how="Close the hole of the tube with a finger, press the tube down slowly.",
    passes="It resists to the end, and the pressure does not leak away at the section or the tail.",
)

PNEUMATIC: Final = FillingSystem(
    name="pneumatic",
    title="pneumatic filler, press-down",
    needs=(_SAC, _TAIL_RING),
    readings=(*GUARD_READINGS, ROD, CAVITY),
    consumables=_CONSUMABLES,
    steps=(
        WARM_SECTION,
        Step("remove_guard", None, "the guard is a push fit though it looks crimped"),
        DIG_OUT_SAC,
        WASH,
        *SAC_ON,
        Step("refit_guard", None, "the guard pushed on over the sac"),
        Step(
            "seal", "silicone grease", "the tail ring; sealant on the section's thread, left to set"
        ),
        _PRESSURE_STEP,
        *FINAL_TESTS,
    ),
    tests=(_PRESSURE_TEST, *SAC_TESTS),
    sources=SOURCES,
    notes=(
        "The guard is a push fit though it looks crimped.",
        "The section's thread must be airtight: sealant, or a gasket where there was one.",
        "Where the section has a gasket or the blind cap a washer, add a need for it.",
        "A thick sac fills badly: the wall is bent by pressed air alone.",
    ),
)

EXTENDING_TUBE: Final = FillingSystem(
    name="pneumatic_extending_tube",
    title="pneumatic filler with extending fill tube",
    needs=(
        replace(_SAC, seals_where="on the small carrier nipple"),
        _TAIL_RING,
        TemplateNeed(
            kind="gasket",
            seals_where="point seal round the fill tube, between nib unit and section",
            calculator="packing",
            reads={"rod": "fill_tube", "bore": "point_seat", "seat_depth": "point_seat_depth"},
            note="Replaced on every service: ink that passes it corrodes the works.",
        ),
        coil_spring("it draws the fill tube back"),
    ),
    readings=(
        *GUARD_READINGS,
        ROD,
        CAVITY,
        TemplateReading(
            "fill_tube",
            title="Fill tube",
            instrument="micrometer",
            how="Outside, at several places along its travel, clean.",
            traps=("not the tube at the tail: that one is the rod",),
        ),
        TemplateReading(
            "point_seat",
            title="Seat of the point seal",
            instrument="plug gauges or drill shanks",
            how="Inside diameter of the seat in the section, with the old seal out completely.",
        ),
        TemplateReading(
            "point_seat_depth",
            title="Depth of the point seal's seat",
            instrument="depth rod of a caliper",
            how="From the face that closes it to its floor.",
        ),
        *SPRING_READINGS,
    ),
    consumables=_CONSUMABLES,
    steps=(
        SPRING_UNDER_LOAD,
        Step("heat", None, "warm the nib unit gently, turning the pen"),
        DIG_OUT_SAC,
        WASH,
        *SAC_ON,
        Step("refit_guard", None, "the guard pushed on over the sac"),
        Step(
            "seal",
            "silicone grease",
            "tail ring, point seal; sealant on the threads, left to set",
        ),
        _PRESSURE_STEP,
        *FINAL_TESTS,
    ),
    tests=(_PRESSURE_TEST, *SAC_TESTS),
    sources=SOURCES,
    notes=(
        "The fill tube's spring jumps out when the pen is opened.",
        "With a leaking point seal the pen part-fills.",
        "Near-boiling water bends one plastic less than hot air does; never with casein.",
    ),
)

PNEUMATICS: Final = (PNEUMATIC, EXTENDING_TUBE)
