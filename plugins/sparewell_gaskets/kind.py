"""The kinds of part: flat washers and packings, and the sheet that they are punched out of."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import KindDimension, PartKind, parse_length

KIND: Final = "gasket"
MATERIALS: Final = ("nbr", "epdm", "silicone", "fkm", "latex", "cork", "felt", "leather")

# 0.3 to 1.5 mm is the usual thickness: common practice, no source.
GASKET: Final = PartKind(
    name=KIND,
    title="gasket or washer",
    dimensions=(
        KindDimension("outside_diameter", (parse_length("2"), parse_length("20"))),
        KindDimension("inside_diameter", (parse_length("0.5"), parse_length("18"))),
        KindDimension("thickness", (parse_length("0.3"), parse_length("1.5"))),
    ),
    led_by="outside_diameter",
    materials=MATERIALS,
)

# 10 to 500 mm is the usual length of a side: common practice, no source.
SHEET: Final = PartKind(
    name="sheet",
    title="sheet",
    dimensions=(
        KindDimension("width", (parse_length("10"), parse_length("500"))),
        KindDimension("length", (parse_length("10"), parse_length("500"))),
        KindDimension("thickness", (parse_length("0.2"), parse_length("5"))),
    ),
    led_by="width",
    materials=MATERIALS,
)
