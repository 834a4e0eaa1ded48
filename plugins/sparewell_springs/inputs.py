"""What the spring's calculator takes: the old spring as it is measured, and where it works."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Field, FieldType
from sparewell_springs.ends import ENDS
from sparewell_springs.materials import WIRES

WIDEST_NANOMETRES: Final = 100 * NANOMETRES_PER_MILLIMETRE
_FEWEST_COILS: Final = Decimal("0.01")
_MOST_COILS: Final = Decimal(1000)

_COIL: Final = (
    Field(
        name="wire_diameter",
        title="Wire",
        help="Diameter of the wire. The rate goes with its fourth power.",
        required=True,
        measured=True,
        how="Micrometer on clean bright wire, at three places; rust and paint come off first.",
        maximum=WIDEST_NANOMETRES,
        plausible=(100_000, 1_500_000),
    ),
    Field(
        name="outside_diameter",
        title="Outside diameter of the coil",
        help="Give this or the mean diameter.",
        measured=True,
        how="Outside jaws over the coils in the middle, without squeezing.",
        maximum=WIDEST_NANOMETRES,
        plausible=(1_500_000, 15_000_000),
    ),
    Field(
        name="mean_diameter",
        title="Mean diameter of the coil",
        help="From the middle of the wire to the middle of the wire: outside less one wire.",
        measured=True,
        how="Worked out from the outside diameter, as a rule.",
        maximum=WIDEST_NANOMETRES,
        plausible=(1_200_000, 14_500_000),
    ),
    Field(
        name="total_coils",
        title="Total coils",
        type=FieldType.NUMBER,
        help="Counted from wire end to wire end. Give these or the active coils.",
        measured=True,
        how="Turn the spring against a mark and count, to a quarter of a turn.",
        minimum=_FEWEST_COILS,
        maximum=_MOST_COILS,
    ),
    Field(
        name="active_coils",
        title="Active coils",
        type=FieldType.NUMBER,
        help="Only those that move.",
        measured=True,
        how="Count the coils that stand apart.",
        minimum=_FEWEST_COILS,
        maximum=_MOST_COILS,
    ),
    Field(
        name="ends",
        title="Ends",
        type=FieldType.CHOICE,
        help="squared: the last coil lies closed against the next. ground: it is ground flat.",
        choices=tuple(ENDS),
    ),
    Field(
        name="free_length",
        title="Free length",
        help="Length without load; forces need it.",
        measured=True,
        how="Standing free, with the depth jaws. An old spring may have set shorter.",
        plausible=(3_000_000, 80_000_000),
    ),
    Field(
        name="material",
        title="Wire material",
        type=FieldType.CHOICE,
        help="Gives the shear modulus and the strength. A magnet tells steel from bronze.",
        choices=tuple(WIRES),
    ),
    Field(
        name="shear_modulus_gpa",
        title="Shear modulus, GPa",
        type=FieldType.NUMBER,
        help="Instead of the material's.",
        minimum=Decimal(1),
        maximum=Decimal(500),
    ),
)

_PLACE: Final = (
    Field(
        name="working_length",
        title="Shortest working length",
        help="The length the spring is pressed to in use.",
        measured=True,
        how="From the drawing of the filler, or between its seats with the filler pressed home.",
        plausible=(2_000_000, 80_000_000),
    ),
    Field(
        name="installed_length",
        title="Installed length",
        help="The length of the spring in the pen at rest.",
        measured=True,
        how="Between its two seats, with the filler at rest.",
        plausible=(2_000_000, 80_000_000),
    ),
    Field(
        name="working_lengths",
        title="Further lengths",
        type=FieldType.LENGTHS,
        help="Any other lengths at which the force is wanted.",
    ),
    Field(
        name="rod_diameter",
        title="Rod inside the spring",
        help="What the spring has to go over.",
        measured=True,
        how="Outside jaws on the rod or tube, at its thickest.",
        maximum=WIDEST_NANOMETRES,
        plausible=(800_000, 12_000_000),
    ),
    Field(
        name="bore_diameter",
        title="Bore round the spring",
        help="What the spring has to go into.",
        measured=True,
        how="Plug gauges or drill shanks, where the spring moves.",
        maximum=WIDEST_NANOMETRES,
        plausible=(2_000_000, 16_000_000),
    ),
)

INPUTS: Final = (*_COIL, *_PLACE)
