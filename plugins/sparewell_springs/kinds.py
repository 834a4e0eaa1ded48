"""The kinds `spring` (coil) and `pressure_bar` (J-bar, button bar).

Bounds of the usual: common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import Field, FieldType, KindDimension, PartKind
from sparewell_springs.ends import ENDS

SPRING: Final = "spring"
PRESSURE_BAR: Final = "pressure_bar"
BAR_KINDS: Final = ("j_bar", "button_bar")

METALS: Final = ("steel", "stainless steel", "phosphor bronze", "brass", "beryllium copper")

SPRING_KIND: Final = PartKind(
    name=SPRING,
    title="coil spring",
    dimensions=(
        KindDimension.usual("outside_diameter", "1.5", "15"),
        KindDimension.usual("inside_diameter", "1", "14"),
        KindDimension.usual("wire_diameter", "0.1", "1.5"),
        KindDimension.usual("length", "3", "80"),
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
        KindDimension.usual("width", "2", "8"),
        KindDimension.usual("length", "20", "100"),
        KindDimension.usual("thickness", "0.2", "1.5"),
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
