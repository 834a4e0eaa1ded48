"""The kinds that only one filling system needs. Bounds of the usual: common practice, no source."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import KindDimension, PartKind

DIAPHRAGM: Final = PartKind(
    name="diaphragm",
    title="Diaphragm, moulded, with its pellet",
    dimensions=(
        KindDimension.usual(
            "inside_diameter", "4", "11"
        ),  # of the open end, which turns back over the collar
        KindDimension.usual("outside_diameter", "5", "12"),
        KindDimension.usual("tip_diameter", "2", "6"),  # of the pocket that holds the pellet
        KindDimension.usual("length", "15", "60"),
        KindDimension.usual("thickness", "0.2", "1"),
    ),
    led_by="inside_diameter",
    materials=("latex", "silicone"),
)
PELLET: Final = PartKind(
    name="pellet",
    title="Pellet of a diaphragm",
    dimensions=(KindDimension.usual("outside_diameter", "1.5", "5"),),
    led_by="outside_diameter",
    materials=("stainless steel", "brass", "moulded plastic"),
)
CORK: Final = PartKind(
    name="cork",
    title="Cork blank, to be turned to size",
    dimensions=(
        KindDimension.usual("outside_diameter", "5", "40"),
        KindDimension.usual("inside_diameter", "0.8", "8"),
        KindDimension.usual("length", "2", "60"),
    ),
    led_by="outside_diameter",
    materials=("cork",),
)
LOCKING_RING: Final = PartKind(
    name="locking_ring",
    title="Locking ring of a hump filler",
    dimensions=(
        KindDimension.usual("inside_diameter", "7", "15"),
        KindDimension.usual("outside_diameter", "8", "17"),
        KindDimension.usual("width", "2", "12"),
    ),
    led_by="inside_diameter",
    materials=("hard rubber", "celluloid", "brass"),
)
SPIRAL: Final = PartKind(
    name="spiral",
    title="Spiral or travelling pin of a retracting nib",
    dimensions=(
        KindDimension.usual("outside_diameter", "0.6", "10"),
        KindDimension.usual("length", "2", "90"),
    ),
    led_by="outside_diameter",
    materials=("hard rubber", "brass", "steel", "stainless steel"),
)

KINDS: Final = (DIAPHRAGM, PELLET, CORK, LOCKING_RING, SPIRAL)
