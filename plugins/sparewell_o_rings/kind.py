"""The kind of part: an O-ring, looked up by its inside diameter."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import KindDimension, PartKind, parse_length
from sparewell_o_rings.labels import read_label

KIND: Final = "o_ring"
MATERIALS: Final = ("nbr", "epdm", "silicone", "fkm")

O_RING: Final = PartKind(
    name=KIND,
    title="O-ring",
    led_by="inside_diameter",
    dimensions=(
        KindDimension("inside_diameter", (parse_length("0.7"), parse_length("30"))),
        KindDimension("cross_section", (parse_length("0.4"), parse_length("3"))),
        KindDimension("outside_diameter", (parse_length("2"), parse_length("35"))),
    ),
    materials=MATERIALS,
    read_label=read_label,
    size_step=parse_length("1/32 in"),  # of the small sizes of AS568
)
