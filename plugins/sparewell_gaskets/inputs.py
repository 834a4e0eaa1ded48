"""What the calculators take: the place the washer goes, or its size, and the sheet it is cut from.

`gasket` takes all of it and finds out which case it is; `packing` and `head_washer` are the same
rule for one case each, so that a plan of a job can name the readings that are missing.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Field, FieldType
from sparewell_gaskets.kind import MATERIALS

WIDEST_NANOMETRES: Final = 100 * NANOMETRES_PER_MILLIMETRE


class WasherMode(StrEnum):
    """Which case it is."""

    PACKING = "packing"
    WASHER = "washer"
    HEAD_WASHER = "head_washer"
    SHEET = "sheet"


MODE: Final = Field(
    name="mode",
    title="Which case",
    type=FieldType.CHOICE,
    help="packing: tight on a moving rod and in its cavity. washer: flat in a seat that is closed "
    "on it. head_washer: on the head of a plunger. sheet: the size is known. Left out, it follows "
    "from what is given: backing_washer, or bore and rod (packing), or bore alone (washer), or "
    "outside_diameter (sheet).",
    choices=tuple(WasherMode),
)


def bore_field(*, required: bool = False) -> Field:
    """Return the bore that the washer lies in."""
    return Field(
        name="bore",
        title="Bore of the seat or cavity",
        help="Inside diameter of what the washer lies in.",
        required=required,
        measured=True,
        how="Plug gauges or drill shanks, after the old packing has been picked out completely.",
        maximum=WIDEST_NANOMETRES,
        plausible=(2_000_000, 16_000_000),
    )


def rod_field(*, required: bool = False) -> Field:
    """Return the rod that goes through the washer."""
    return Field(
        name="rod",
        title="Rod",
        help="Outside diameter of the rod, shaft, spindle or tube that goes through the hole.",
        required=required,
        measured=True,
        how="Outside jaws on a clean, unworn stretch, in two directions.",
        maximum=WIDEST_NANOMETRES,
        plausible=(600_000, 12_000_000),
    )


def backing_field(*, required: bool = False) -> Field:
    """Return the plunger's backing washer."""
    return Field(
        name="backing_washer",
        title="Backing washer of the plunger",
        help="Outside diameter of the hard washer behind the soft one.",
        required=required,
        measured=True,
        how="Outside jaws, in two directions; take the larger.",
        maximum=WIDEST_NANOMETRES,
        plausible=(5_000_000, 13_000_000),
    )


SEAT_DEPTH: Final = Field(
    name="seat_depth",
    title="Depth of the seat or cavity",
    help="Gives the thickness of a flat washer, and how many of a packing are stacked.",
    measured=True,
    how="Depth rod, from the face that closes it to its floor.",
    plausible=(300_000, 12_000_000),
)

HEAD_STEM: Final = Field(
    name="head_stem",
    title="Stem through the head washer",
    help="What goes through the hole of the head washer; 1/16 in is usual.",
    measured=True,
    how="Outside jaws over the stem or the screw at the plunger's end.",
    maximum=WIDEST_NANOMETRES,
    plausible=(800_000, 4_000_000),
)

BARREL_BORE: Final = Field(
    name="barrel_bore",
    title="Barrel bore",
    help="Inside diameter that the head washer slides in; it checks the answer.",
    measured=True,
    how="Plug gauges or inside jaws, where the plunger seals and not at the wider mouth.",
    maximum=WIDEST_NANOMETRES,
    plausible=(4_000_000, 13_000_000),
)

THICKNESS: Final = Field(
    name="thickness",
    title="Thickness of the sheet",
    help="Of the sheet in hand; else the usual one is taken.",
    maximum=WIDEST_NANOMETRES,
    plausible=(300_000, 1_500_000),
)

MATERIAL: Final = Field(
    name="material",
    title="Material",
    type=FieldType.CHOICE,
    help="Cork has an oversize of its own.",
    choices=MATERIALS,
)

_SIZE: Final = (
    Field(
        name="outside_diameter",
        title="Outside diameter of the washer",
        help="Where the size is known (mode sheet).",
        maximum=WIDEST_NANOMETRES,
        plausible=(2_000_000, 20_000_000),
    ),
    Field(
        name="inside_diameter",
        title="Inside diameter of the washer",
        help="Left out, it is a disc without a hole.",
        maximum=WIDEST_NANOMETRES,
        plausible=(500_000, 18_000_000),
    ),
)

SHEET: Final = (
    Field(
        name="sheet_length",
        title="Length of the sheet",
        help="With its width: how many washers it gives.",
        plausible=(10_000_000, 600_000_000),
    ),
    Field(
        name="sheet_width",
        title="Width of the sheet",
        help="With its length: how many washers it gives.",
        plausible=(3_000_000, 600_000_000),
    ),
    Field(
        name="spacing",
        title="Web between washers",
        help="The least left between two holes in the sheet. Zero is allowed.",
        plausible=(0, 5_000_000),
        zero_allowed=True,
    ),
    Field(
        name="sheet_edge",
        title="Edge that is not used",
        help="Kept free all round the sheet. Zero is allowed.",
        plausible=(0, 10_000_000),
        zero_allowed=True,
    ),
)

INPUTS: Final = (
    MODE,
    bore_field(),
    rod_field(),
    SEAT_DEPTH,
    backing_field(),
    HEAD_STEM,
    BARREL_BORE,
    *_SIZE,
    THICKNESS,
    MATERIAL,
    *SHEET,
)

PACKING_INPUTS: Final = (
    bore_field(required=True),
    rod_field(required=True),
    SEAT_DEPTH,
    THICKNESS,
    MATERIAL,
    *SHEET,
)

HEAD_WASHER_INPUTS: Final = (
    backing_field(required=True),
    HEAD_STEM,
    BARREL_BORE,
    THICKNESS,
    MATERIAL,
    *SHEET,
)

# What each case reads; anything else that was given is named as not used.
READ_BY_MODE: Final = {
    WasherMode.PACKING: frozenset({"bore", "rod", "seat_depth"}),
    WasherMode.WASHER: frozenset({"bore", "rod", "seat_depth"}),
    WasherMode.HEAD_WASHER: frozenset({"backing_washer", "head_stem", "barrel_bore"}),
    WasherMode.SHEET: frozenset({"outside_diameter", "inside_diameter"}),
}
