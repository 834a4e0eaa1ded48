"""The kinds `spring` (coil) and `pressure_bar` (J-bar, button bar).

Bounds of the usual: common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import Field, FieldType, KindDimension, PartKind, parse_length
from sparewell_springs.ends import ENDS

SPRING: Final = "spring"
PRESSURE_BAR: Final = "pressure_bar"
BAR_KINDS: Final = ("j_bar", "button_bar")

METALS: Final = ("steel", "stainless steel", "phosphor bronze", "brass", "beryllium copper")

SPRING_KIND: Final = PartKind(
    name=SPRING,
    title="coil spring",
    dimensions=(
        KindDimension("outside_diameter", (parse_length("1.5"), parse_length("15"))),
        KindDimension("inside_diameter", (parse_length("1"), parse_length("14"))),
        KindDimension("wire_diameter", (parse_length("0.1"), parse_length("1.5"))),
        KindDimension("length", (parse_length("3"), parse_length("80"))),
    ),
    led_by="outside_diameter",
    materials=METALS,
    attributes=(
        Field(
            name="total_coils",
            title="Total coils",
            type=FieldType.NUMBER,
            help="Counted from wire end to wire end.",
            minimum=Decimal("0.5"),
            maximum=Decimal(500),
        ),
        Field(
            name="ends",
            title="Ends",
            type=FieldType.CHOICE,
            help="squared: the last coil lies closed. ground: it is ground flat.",
            choices=tuple(ENDS),
        ),
    ),
)

PRESSURE_BAR_KIND: Final = PartKind(
    name=PRESSURE_BAR,
    title="pressure bar",
    dimensions=(
        KindDimension("width", (parse_length("2"), parse_length("8"))),
        KindDimension("length", (parse_length("20"), parse_length("100"))),
        KindDimension("thickness", (parse_length("0.2"), parse_length("1.5"))),
    ),
    led_by="width",
    materials=METALS,
    attributes=(
        Field(
            name="bar_kind",
            title="Kind of bar",
            type=FieldType.CHOICE,
            help="j_bar: a strip on a spring bent like a J. button_bar: a spring that bows.",
            choices=BAR_KINDS,
        ),
    ),
)
