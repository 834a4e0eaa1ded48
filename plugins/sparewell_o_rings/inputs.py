"""What the calculator takes: the gland as measured, what it does, and one ring to be judged."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Field, FieldType
from sparewell_o_rings.glands import Duty, GlandKind
from sparewell_o_rings.kind import MATERIALS
from sparewell_o_rings.materials import FLUSHES, GREASES

_USUAL_DIAMETER: Final = (700_000, 30_000_000)


def _tolerance(name: str, title: str) -> Field:
    """Return the tolerance of a reading; left out, the spread of the reading counts."""
    return Field(
        name=f"{name}_tolerance",
        title=f"{title}, plus and minus",
        help="Left out: the spread noted with the reading, else 0.",
        plausible=(0, 300_000),
        zero_allowed=True,
    )


_GLAND: Final = (
    Field(
        name="gland",
        title="Where the ring sits",
        type=FieldType.CHOICE,
        help="piston: in a groove on what goes into a bore (give bore and groove_diameter). rod: "
        "in a cavity round a rod (give rod and bore). face: in a groove of a flat face (give "
        "groove_diameter and groove_depth).",
        required=True,
        choices=tuple(GlandKind),
    ),
    Field(
        name="duty",
        title="Whether the ring moves",
        type=FieldType.CHOICE,
        help="Left out, it counts as static, and the answer says so.",
        choices=tuple(Duty),
    ),
    Field(
        name="bore",
        title="Bore",
        help="piston: the bore it goes into. rod: the cavity the ring sits in.",
        measured=True,
        how="Inside jaws or plug gauges, clean, in two directions.",
        plausible=_USUAL_DIAMETER,
    ),
    _tolerance("bore", "Bore"),
    Field(
        name="groove_diameter",
        title="Groove diameter",
        help="The diameter that the inside of the ring rests on: the bottom of a piston's groove, "
        "the inner wall of a face groove.",
        measured=True,
        how="Blade jaws across the bottom of the groove, with the old ring off.",
        plausible=_USUAL_DIAMETER,
    ),
    _tolerance("groove_diameter", "Groove diameter"),
    Field(
        name="rod",
        title="Rod",
        help="The rod or tube that the ring runs on.",
        measured=True,
        how="Outside jaws, at several places along the stroke; wear shows.",
        plausible=(500_000, 20_000_000),
    ),
    _tolerance("rod", "Rod"),
    Field(
        name="groove_depth",
        title="Depth of a face groove",
        help="What is left for the ring when the joint is closed.",
        measured=True,
        how="Depth rod, or a drill shank and a straight edge.",
        plausible=(300_000, 3_000_000),
    ),
    _tolerance("groove_depth", "Depth of a face groove"),
    Field(
        name="groove_width",
        title="Groove width",
        help="Along the axis (of a face groove: across it). Left out, no fill is worked out.",
        measured=True,
        how="Feelers or a drill shank between the walls; in a packing, between the two washers.",
        plausible=(500_000, 5_000_000),
    ),
    _tolerance("groove_width", "Groove width"),
    Field(
        name="corner_radius",
        title="Largest radius of the groove's corners",
        help="It takes room from the fullest groove. Left out: none.",
        plausible=(0, 400_000),
        zero_allowed=True,
    ),
)

RING: Final = Field(
    name="ring",
    title="One ring to be judged",
    type=FieldType.GROUP,
    help="Instead of the tables.",
    members=(
        Field(name="inside_diameter", title="Inside diameter of the free ring", required=True),
        Field(name="cross_section", title="Cross-section of the free ring", required=True),
        Field(
            name="inside_diameter_tolerance",
            title="Inside diameter, plus and minus",
            zero_allowed=True,
        ),
        Field(
            name="cross_section_tolerance", title="Cross-section, plus and minus", zero_allowed=True
        ),
    ),
)

_CHEMISTRY: Final = (
    Field(
        name="material",
        title="Material of the ring",
        type=FieldType.CHOICE,
        help="Left out, all are compared.",
        choices=MATERIALS,
    ),
    Field(
        name="grease",
        title="What the ring is greased with",
        type=FieldType.CHOICE,
        choices=GREASES,
    ),
    Field(
        name="flush",
        title="What the pen is flushed with",
        type=FieldType.CHOICE,
        help="Dilute, and rinsed out.",
        choices=FLUSHES,
    ),
)

INPUTS: Final = (*_GLAND, RING, *_CHEMISTRY)
