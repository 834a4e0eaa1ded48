"""What the bar's calculator takes: readings of the pen, and of the old bar where there is one."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Field, FieldType
from sparewell_springs.kinds import BAR_KINDS

WIDEST_NANOMETRES: Final = 100 * NANOMETRES_PER_MILLIMETRE

BAR_INPUTS: Final = (
    Field(
        name="barrel_depth",
        title="Barrel depth",
        help="From the mouth to the closed end; of a button filler, to the button at rest.",
        required=True,
        measured=True,
        how="Depth rod from the mouth of the barrel, with no bar in it.",
        plausible=(20_000_000, 130_000_000),
    ),
    Field(
        name="barrel_bore",
        title="Barrel bore",
        help="Inside diameter of the barrel where the bar lies.",
        required=True,
        measured=True,
        how="Inside jaws or plug gauges, 10 mm or deeper: the mouth is often counterbored.",
        maximum=WIDEST_NANOMETRES,
        plausible=(4_000_000, 13_000_000),
    ),
    Field(
        name="bar_kind",
        title="Kind of bar",
        type=FieldType.CHOICE,
        help="j_bar: of a lever filler, wedged in the barrel's end. button_bar: bows when its "
        "button is pressed.",
        choices=BAR_KINDS,
    ),
    Field(
        name="tenon_length",
        title="Tenon length",
        help="How far the section reaches into the barrel.",
        measured=True,
        how="Outside jaws or depth rod along the tenon.",
        zero_allowed=True,
        plausible=(3_000_000, 30_000_000),
    ),
    Field(
        name="bar_width",
        title="Width of the old bar",
        help="The best guide to the new one's.",
        measured=True,
        how="Outside jaws across the strip where it is widest.",
        maximum=WIDEST_NANOMETRES,
        plausible=(1_000_000, 8_000_000),
    ),
    Field(
        name="bar_thickness",
        title="Thickness of the old bar",
        help="With its width: how far it stands off the wall.",
        measured=True,
        how="Outside jaws over the strip; with its spring, if it is doubled.",
        maximum=WIDEST_NANOMETRES,
        plausible=(200_000, 1_500_000),
    ),
    Field(
        name="slot_width",
        title="Width of the lever's slot",
        help="The bar must be wider.",
        measured=True,
        how="Feeler or drill shanks across the slot in the barrel.",
        maximum=WIDEST_NANOMETRES,
        plausible=(800_000, 5_000_000),
    ),
)
