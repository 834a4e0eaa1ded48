"""The kinds of part: flat washers and packings, and the sheet that they are punched out of."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import KindDimension, PartKind

KIND: Final = "gasket"
MATERIALS: Final = ("nbr", "epdm", "silicone", "fkm", "latex", "cork", "felt", "leather")

# 0.3 to 1.5 mm is the usual thickness: common practice, no source.
GASKET: Final = PartKind(
    name=KIND,
    title="gasket or washer",
    dimensions=(
        KindDimension.usual("outside_diameter", "2", "20"),
        KindDimension.usual("inside_diameter", "0.5", "18"),
        KindDimension.usual("thickness", "0.3", "1.5"),
    ),
    led_by="outside_diameter",
    materials=MATERIALS,
)

# 10 to 500 mm is the usual length of a side: common practice, no source.
SHEET: Final = PartKind(
    name="sheet",
    title="sheet",
    dimensions=(
        KindDimension.usual("width", "10", "500"),
        KindDimension.usual("length", "10", "500"),
        KindDimension.usual("thickness", "0.2", "5"),
    ),
    led_by="width",
    materials=MATERIALS,
)
