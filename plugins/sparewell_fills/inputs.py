"""What the calculator takes: the system, its volumes or its measures, and a weighed fill."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Field, FieldType


class System(StrEnum):
    """How the pen fills."""

    PNEUMATIC = "pneumatic"
    SAC = "sac"
    PISTON = "piston"
    PLUNGER = "plunger"


MATERIALS: Final = ("latex", "silicone", "pvc", "unknown")
WEIGHED_FROM: Final = ("emptied", "dry")

_WIDEST: Final = 100 * NANOMETRES_PER_MILLIMETRE
_LEAST_ML: Final = Decimal("0.01")
_MOST_ML: Final = Decimal(50)


def _length(
    name: str, title: str, text: str, how: str, usual: tuple[int, int], most: int = _WIDEST
) -> Field:
    """Return a reading; `usual` is in tenths of a millimetre."""
    tenth = NANOMETRES_PER_MILLIMETRE // 10
    return Field(
        name=name,
        title=title,
        help=text,
        measured=True,
        how=how,
        maximum=most,
        plausible=(usual[0] * tenth, usual[1] * tenth),
    )


def _millilitres(name: str, title: str, text: str, least: Decimal = _LEAST_ML) -> Field:
    """Return a volume in millilitres."""
    return Field(
        name=name, title=title, type=FieldType.NUMBER, help=text, minimum=least, maximum=_MOST_ML
    )


_SYSTEM: Final = (
    Field(
        name="system",
        title="Filling system",
        type=FieldType.CHOICE,
        help="pneumatic: air pressure; sac: a bar or a squeeze; piston; plunger: vacuum.",
        required=True,
        choices=tuple(System),
    ),
)

_SAC: Final = (
    _millilitres(
        "sac_volume_ml", "Volume of the sac", "Inside, or give its inside diameter and its length."
    ),
    _length(
        "sac_inside_diameter",
        "Sac, inside",
        "Inside diameter of the sac.",
        "A plug gauge it just slips over.",
        (20, 97),
    ),
    _length(
        "sac_outside_diameter",
        "Sac, outside",
        "Outside diameter; with the wall, instead of the inside.",
        "The smallest hole of a drill gauge that it slips through.",
        (30, 105),
    ),
    _length(
        "sac_wall", "Wall of the sac", "A setting where not given.", "Two walls, halved.", (2, 8)
    ),
    _length(
        "sac_length",
        "Length of the sac",
        "As cut, from its open end to its tip.",
        "Ruler beside the sac, unstretched.",
        (150, 1100),
        1_000 * NANOMETRES_PER_MILLIMETRE,
    ),
    _length(
        "nipple_length",
        "Length of the nipple inside the sac",
        "This much of the sac holds no ink.",
        "Depth rod or outside jaws, from the shoulder to the end.",
        (20, 100),
    ),
    Field(
        name="sac_material",
        title="Material of the sac",
        type=FieldType.CHOICE,
        help="How stiff it is, where the stiffness is not given. Left out, it is unknown.",
        choices=MATERIALS,
    ),
    Field(
        name="sac_stiffness_kpa",
        title="Stiffness of the sac",
        type=FieldType.NUMBER,
        help="By how much the air round the sac must rise before it collapses, in kPa.",
        minimum=Decimal(0),
        maximum=Decimal(200),
    ),
)

_STROKE: Final = (
    _millilitres(
        "air_volume_ml",
        "Air round the sac, plunger out",
        "Pneumatic: or give bore and depth of the barrel.",
    ),
    _millilitres(
        "swept_volume_ml", "Volume that one stroke sweeps", "Or give the stroke and its diameters."
    ),
    _length(
        "barrel_bore",
        "Barrel bore",
        "Inside diameter of the barrel where the piston or plunger runs, or the air is.",
        "Inside jaws or plug gauges, 10 mm or deeper.",
        (40, 130),
    ),
    _length(
        "barrel_depth",
        "Depth of the barrel",
        "Pneumatic: from mouth to closed end.",
        "Depth rod, plunger out.",
        (200, 1300),
        1_000 * NANOMETRES_PER_MILLIMETRE,
    ),
    _length(
        "stroke",
        "Stroke",
        "How far piston, plunger or moving tube travels.",
        "Depth rod, from one end of the travel to the other.",
        (50, 1000),
        1_000 * NANOMETRES_PER_MILLIMETRE,
    ),
    _length(
        "tube_diameter",
        "Moving tube, outside",
        "Pneumatic: what is pushed through the tail.",
        "Outside jaws, where it runs through the ring.",
        (30, 120),
    ),
    _length(
        "rod_diameter",
        "Plunger rod",
        "Plunger: the rod behind the head takes room.",
        "Outside jaws, where it runs through the packing.",
        (8, 40),
    ),
    Field(
        name="leak_percent",
        title="Share that leaks away in the stroke",
        type=FieldType.NUMBER,
        help="Of the air (pneumatic) or of the sweep; where not given, from none to a setting.",
        minimum=Decimal(0),
        maximum=Decimal(100),
    ),
    Field(
        name="air_pressure_kpa",
        title="Pressure of the air",
        type=FieldType.NUMBER,
        help="Pneumatic: the standard atmosphere where not given.",
        minimum=Decimal(30),
        maximum=Decimal(120),
    ),
)

_WEIGHED: Final = (
    _millilitres(
        "weighed_ml",
        "Fill found by weight",
        "Of water; or give its grams. With neither, only the expected fill is answered.",
        Decimal(0),
    ),
    Field(
        name="water_grams",
        title="Grams of water drawn",
        type=FieldType.NUMBER,
        help="Filled less before; divided by the density of water.",
        minimum=Decimal(0),
        maximum=Decimal(50),
    ),
    Field(
        name="weighed_from",
        title="What the pen was before it was filled",
        type=FieldType.CHOICE,
        help="emptied (the default), or bone dry: then nib and feed take their share too.",
        choices=WEIGHED_FROM,
    ),
    Field(
        name="weighing_error_ml",
        title="How far one weighing may be off",
        type=FieldType.NUMBER,
        help="A setting where not given.",
        minimum=Decimal(0),
        maximum=Decimal(5),
    ),
    Field(
        name="fills_averaged",
        title="How many fills were averaged",
        type=FieldType.INTEGER,
        help="The error of a mean falls with the root of their number. One where not given.",
        minimum=1,
        maximum=1000,
    ),
)

INPUTS: Final = (*_SYSTEM, *_SAC, *_STROKE, *_WEIGHED)

_SAC_MEASURES: Final = frozenset(
    {
        "sac_volume_ml",
        "sac_inside_diameter",
        "sac_outside_diameter",
        "sac_wall",
        "sac_length",
        "nipple_length",
        "sac_material",
    }
)
_ALWAYS_USED: Final = frozenset({"system", *(field.name for field in _WEIGHED)})
_USED_BY: Final = {
    System.SAC: _SAC_MEASURES,
    System.PNEUMATIC: _SAC_MEASURES
    | {
        "sac_stiffness_kpa",
        "air_volume_ml",
        "swept_volume_ml",
        "barrel_bore",
        "barrel_depth",
        "stroke",
        "tube_diameter",
        "leak_percent",
        "air_pressure_kpa",
    },
    System.PISTON: frozenset({"swept_volume_ml", "barrel_bore", "stroke", "leak_percent"}),
    System.PLUNGER: frozenset(
        {"swept_volume_ml", "barrel_bore", "stroke", "rod_diameter", "leak_percent"}
    ),
}


def is_used(name: str, system: System) -> bool:
    """Return whether the system has any use for this input."""
    return name in _ALWAYS_USED or name in _USED_BY[system]
