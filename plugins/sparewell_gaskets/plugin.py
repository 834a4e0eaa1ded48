"""The kind `gasket`: flat washers and packings of rubber, cork, felt or leather."""

from __future__ import annotations

from sparewell.plugin import KindDimension, PartKind, hook, parse_length


@hook
def part_kinds() -> list[PartKind]:
    """Return the gasket; 0.3 to 1.5 mm is the usual thickness (common practice, no source)."""
    return [
        PartKind(
            name="gasket",
            title="gasket or washer",
            dimensions=(
                KindDimension("outside_diameter", (parse_length("2"), parse_length("20"))),
                KindDimension("inside_diameter", (parse_length("0.5"), parse_length("18"))),
                KindDimension("thickness", (parse_length("0.3"), parse_length("1.5"))),
            ),
            led_by="outside_diameter",
            materials=("nbr", "epdm", "silicone", "fkm", "latex", "cork", "felt", "leather"),
        )
    ]
