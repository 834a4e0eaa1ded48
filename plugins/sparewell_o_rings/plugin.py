"""The kind `o_ring`. A ring in a pen can be identified by its dimensions only."""

from __future__ import annotations

from sparewell.plugin import KindDimension, PartKind, hook, parse_length


@hook
def part_kinds() -> list[PartKind]:
    """Return the O-ring: inside diameter and cross-section say everything."""
    return [
        PartKind(
            name="o_ring",
            title="O-ring",
            dimensions=(
                KindDimension("inside_diameter", (parse_length("0.7"), parse_length("30"))),
                KindDimension("cross_section", (parse_length("0.4"), parse_length("3"))),
                KindDimension("outside_diameter", (parse_length("2"), parse_length("35"))),
            ),
            led_by="inside_diameter",
            materials=("nbr", "epdm", "silicone", "fkm"),
        )
    ]
