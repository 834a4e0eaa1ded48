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
        KindDimension.usual("inside_diameter", "0.7", "30"),
        KindDimension.usual("cross_section", "0.4", "3"),
        KindDimension.usual("outside_diameter", "2", "35"),
    ),
    materials=MATERIALS,
    read_label=read_label,
    size_step=parse_length("1/32 in"),  # of the small sizes of AS568
)
