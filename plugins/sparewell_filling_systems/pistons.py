"""Systems in which something turns or slides through a seal: the piston, the retracting nib."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import FillingSystem, Step, TemplateNeed, TemplateReading, TemplateTest
from sparewell_filling_systems.common import (
    FINAL_TESTS,
    FIND_THE_HAND,
    GREASE,
    LEAK_TEST,
    MOST_PACKINGS,
    SOURCES,
    STAND_NIB_DOWN,
    TESTS,
    WARM_SECTION,
    WASH,
)
from sparewell_filling_systems.readings import CAVITY, CAVITY_DEPTH, ROD

_GROOVE_JAWS: Final = "blade jaws of a caliper"

PISTON: Final = FillingSystem(
    name="piston",
    title="piston filler",
    needs=(
        TemplateNeed(
            kind="o_ring",
            seals_where="piston against the barrel",
            calculator="o_ring",
            at_most=2,
            given={"gland": "piston", "duty": "moving", "grease": "silicone"},
            decided_when_open=True,
            note="One for each groove. Where the piston takes a cork, drop this and decide that.",
        ),
        TemplateNeed(
            kind="gasket",
            seals_where="piston against the barrel, of cork in place of the rings",
            calculator="packing",
            optional=True,
            given={"material": "cork"},
            reads={"rod": "spindle"},
            decided_when_open=True,
            note="Turned slightly over the bore, in two or three tries; the blank to turn it from "
            "is a need of the kind cork.",
        ),
        TemplateNeed(
            kind="o_ring",
            seals_where="mechanism against the barrel, at the tail",
            calculator="o_ring",
            optional=True,
            given={"gland": "face", "duty": "static", "grease": "silicone"},
            reads={
                "groove_diameter": "tail_groove",
                "groove_depth": "tail_groove_depth",
                "groove_width": "tail_groove_width",
            },
            decided_when_open=True,
            note="Not every mechanism has one.",
        ),
    ),
    readings=(
        TemplateReading(
            "bore",
            instrument="plug gauges or inside jaws, where the piston runs",
            traps=("an old seal is flattened or shrunk: measure groove and bore, not the corpse",),
        ),
        TemplateReading(
            "groove_diameter",
            instrument=_GROOVE_JAWS,
            traps=("with the old ring off, at the bottom of the groove",),
        ),
        TemplateReading("groove_width", instrument="feelers or a drill shank"),
        TemplateReading(
            "spindle",
            title="Spindle that the cork sits on",
            instrument="outside jaws of a caliper",
            how="Where the cork grips it, clean of old grease.",
        ),
        TemplateReading(
            "tail_groove",
            title="Groove of the tail seal, inner wall",
            instrument=_GROOVE_JAWS,
            how="Outside diameter of the wall that the ring lies round.",
        ),
        TemplateReading(
            "tail_groove_depth",
            title="Depth left for the tail seal",
            instrument="depth rod of a caliper",
            how="What is left for the ring when mechanism and barrel are screwed together.",
        ),
        TemplateReading(
            "tail_groove_width",
            title="Width of the tail seal's groove",
            instrument="feelers or a drill shank",
            how="From its inner to its outer wall.",
        ),
    ),
    consumables=("silicone grease",),
    steps=(
        WARM_SECTION,
        Step("unscrew", None, "some tails unscrew clockwise: find the hand before any force"),
        Step("dig_out", None, "old seal and grease out of groove and barrel"),
        WASH,
        Step("soak_cork", None, "a cork is soaked first, in molten wax or grease; a ring is not"),
        Step("fit", None, "the ring into its groove without rolling; cork turned, then greased"),
        GREASE,
        *FINAL_TESTS,
    ),
    tests=(
        TemplateTest(
            name="draw",
            how="Empty and dry, close the feed with a finger and wind the piston back half-way.",
            passes="It is felt to pull; released, air is heard to enter. The knob moves the piston "
            "and does not spin in place.",
        ),
        *TESTS,
    ),
    sources=SOURCES,
    notes=(
        "In some mechanisms the seal's drag keeps the spindle: too little, and the shaft spins.",
        "A mechanism made for cork mostly takes a stock ring; one for a moulded seal often not.",
    ),
)

SAFETY: Final = FillingSystem(
    name="retracting_nib_safety",
    title="retracting-nib safety",
    needs=(
        TemplateNeed(
            kind="gasket",
            seals_where="shaft through the barrel's tail",
            calculator="packing",
            at_most=MOST_PACKINGS,
            decided_when_open=True,
            note="Cork washers, or O-rings: then add needs for rings and drop this one.",
        ),
        TemplateNeed(
            kind="gasket",
            seals_where="cap against the mouth of the barrel",
            calculator="gasket",
            optional=True,
            given={"mode": "washer"},
            reads={"bore": "cap_seat", "rod": "cap_seat_hole", "seat_depth": "cap_seat_depth"},
            decided_when_open=True,
            note="Not every cap has one.",
        ),
        TemplateNeed(
            kind="spiral",
            seals_where="none: it carries the nib out and in",
            optional=True,
            reads={"outside_diameter": "pin"},
            decided_when_open=True,
        ),
    ),
    readings=(
        ROD,
        CAVITY,
        CAVITY_DEPTH,
        TemplateReading(
            "cap_seat",
            title="Seat of the gasket in the cap",
            instrument="inside jaws of a caliper",
            how="Inside diameter of the cap where the gasket lies.",
        ),
        TemplateReading(
            "cap_seat_hole",
            title="What goes through the cap's gasket",
            instrument="outside jaws of a caliper",
            how="Outside diameter of the stud or tube in the gasket's hole.",
        ),
        TemplateReading(
            "cap_seat_depth",
            title="Depth of the seat in the cap",
            instrument="depth rod of a caliper",
            how="What is left for the gasket when the cap is closed.",
        ),
        TemplateReading(
            "pin",
            title="Travelling pin",
            instrument="micrometer",
            how="Across the pin, or across the spiral at its widest.",
        ),
    ),
    consumables=("silicone grease",),
    steps=(
        Step("assess", None, "nib withdrawn, ink out, the seat of the cap looked at"),
        FIND_THE_HAND,
        Step("release_spring", None, "drive the pin out of the knob with the shaft held"),
        Step("dig_out", None, "pick the old packing out of the tail completely"),
        WASH,
        Step("fit", None, "packing over the shaft, pressed home, not folded"),
        GREASE,
        STAND_NIB_DOWN,
    ),
    tests=(
        TemplateTest(
            name="travel",
            how="Turn the nib out and in ten times.",
            passes="It turns with an even drag, stays out when written with, and the tail is dry.",
        ),
        LEAK_TEST,
    ),
    sources=SOURCES,
    notes=("Fill and close it with the nib withdrawn: with the nib out the cap breaks it.",),
)

PISTONS: Final = (PISTON, SAFETY)
