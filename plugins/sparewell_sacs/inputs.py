"""What the calculator takes: readings of the pen, choices, and what was tried in."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Field, FieldType
from sparewell_sacs.kind import MATERIALS
from sparewell_sacs.settings import BAR_RULES

WIDEST_NANOMETRES: Final = 100 * NANOMETRES_PER_MILLIMETRE

_USUAL_BORE: Final = (4_000_000, 13_000_000)

_REQUIRED_AND_BORE: Final = (
    Field(
        name="nipple_diameter",
        title="Nipple, outside",
        help="Outside diameter of the nipple that the sac is pulled over.",
        required=True,
        measured=True,
        how="Clean off old shellac, then the outside jaws, in two directions; take the larger.",
        maximum=WIDEST_NANOMETRES,
        plausible=(3_000_000, 10_000_000),
        narrower_than=("barrel_bore", "guard_bore"),
    ),
    Field(
        name="barrel_bore",
        title="Barrel bore",
        help="Inside diameter of the barrel where the sac lies. Give this or the guard bore.",
        measured=True,
        how="Inside jaws or plug gauges, 10 mm or deeper: the mouth is often counterbored.",
        maximum=WIDEST_NANOMETRES,
        plausible=_USUAL_BORE,
    ),
    Field(
        name="barrel_bore_at",
        title="Depth at which the bore was taken",
        help="How far inside the mouth the bore was measured.",
        measured=True,
        how="Mark the gauge where it meets the mouth.",
        plausible=(0, 100_000_000),
        zero_allowed=True,
    ),
    Field(
        name="barrel_bore_tail",
        title="Barrel bore at the tail",
        help="Inside diameter at the tail end, where the barrel narrows.",
        measured=True,
        how="The thickest plug gauge or drill shank that reaches the end of the sac's room.",
        maximum=WIDEST_NANOMETRES,
        plausible=(3_000_000, 13_000_000),
    ),
    Field(
        name="guard_bore",
        title="Guard bore",
        help="Inside diameter of the sac guard, instead of bore and bar.",
        measured=True,
        how="Inside jaws at the open end of the guard; check that it is round.",
        maximum=WIDEST_NANOMETRES,
        plausible=_USUAL_BORE,
    ),
)

_BAR: Final = (
    Field(
        name="bar_height",
        title="Height of the bar, in place",
        help="How far the highest thing stands off the wall of the barrel.",
        measured=True,
        how="Depth gauge or feeler across the mouth, with the bar and its spring in place.",
        maximum=WIDEST_NANOMETRES,
        plausible=(200_000, 1_500_000),
    ),
    Field(
        name="bar_thickness",
        title="Thickness of the bar",
        help="With its width, the height is worked out: the bar lies across the bore as a chord.",
        measured=True,
        how="Outside jaws over the strip; with its spring, if it is doubled.",
        maximum=WIDEST_NANOMETRES,
        plausible=(200_000, 1_500_000),
    ),
    Field(
        name="bar_width",
        title="Width of the bar",
        help="With its thickness, the height is worked out.",
        measured=True,
        how="Outside jaws across the strip where it is widest.",
        maximum=WIDEST_NANOMETRES,
        plausible=(1_000_000, 8_000_000),
    ),
    Field(
        name="ring_wire",
        title="Wire of the lever ring",
        help="How far the ring that carries the lever stands off the wall.",
        measured=True,
        how="Outside jaws over the wire, or a feeler where it sits in a groove.",
        maximum=WIDEST_NANOMETRES,
        plausible=(300_000, 1_500_000),
    ),
    Field(
        name="bar_rule",
        title="How often the bar is taken off",
        type=FieldType.CHOICE,
        help="twice: the nipple holds the sac on the axis. once: it may lie off centre. none: "
        "nothing is in the way.",
        choices=BAR_RULES,
    ),
    Field(
        name="clearance",
        title="Clearance on the diameter",
        help="Air wanted between sac and barrel. Zero is allowed.",
        maximum=WIDEST_NANOMETRES,
        plausible=(0, 1_000_000),
        zero_allowed=True,
    ),
)

_LENGTHS: Final = (
    Field(
        name="barrel_depth",
        title="Barrel depth",
        help="From the mouth to the closed end, or to the crook of the bar.",
        measured=True,
        how="Depth rod from the mouth of the barrel (or of the guard).",
        plausible=(20_000_000, 130_000_000),
    ),
    Field(
        name="tenon_length",
        title="Tenon length",
        help="From the section's face at the barrel mouth to the shoulder of the nipple.",
        measured=True,
        how="Outside jaws or depth rod along the tenon.",
        plausible=(3_000_000, 30_000_000),
    ),
    Field(
        name="nipple_length",
        title="Nipple length",
        help="How much of the nipple is left for the sac to hold on to.",
        measured=True,
        how="Depth rod from the nipple's end to its shoulder.",
        plausible=(4_000_000, 10_000_000),
    ),
    Field(
        name="end_gap",
        title="Gap at the tail",
        help="Room left between the sac's end and the closed end.",
        plausible=(0, 8_000_000),
        zero_allowed=True,
    ),
)

_SAC: Final = (
    Field(
        name="wall",
        title="Wall of the sac",
        help="Thickness of the wall of the sacs to be fitted, where it is known.",
        maximum=WIDEST_NANOMETRES,
        plausible=(200_000, 800_000),
    ),
    Field(
        name="material",
        title="Material of the sac",
        type=FieldType.CHOICE,
        choices=MATERIALS,
    ),
    Field(
        name="try_in",
        title="Size tried in",
        type=FieldType.NUMBER,
        help="Number of the largest sac that went in with the bar in place, such as 15.5.",
        measured=True,
        how="It must go in without touching the bar or being creased.",
        minimum=Decimal(1),
        maximum=Decimal(64),
    ),
    Field(
        name="old_sac",
        title="What the old sac was",
        type=FieldType.TEXT,
        help="Noted, and never relied on.",
        measured=True,
        how="Read the number printed on it, if any; count its layers of rubber.",
    ),
)

INPUTS: Final = (*_REQUIRED_AND_BORE, *_BAR, *_LENGTHS, *_SAC)
