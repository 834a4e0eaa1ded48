"""The kinds `spring` (coil) and `pressure_bar` (J-bar, button bar).

Bounds of the usual: common practice, no source.
"""

from __future__ import annotations

from sparewell.plugin import KindDimension, PartKind, hook, parse_length

_METALS = ("steel", "stainless steel", "phosphor bronze", "brass", "beryllium copper")


@hook
def part_kinds() -> list[PartKind]:
    """Return the coil spring and the pressure bar."""
    return [
        PartKind(
            name="spring",
            title="coil spring",
            dimensions=(
                KindDimension("outside_diameter", (parse_length("1.5"), parse_length("15"))),
                KindDimension("inside_diameter", (parse_length("1"), parse_length("14"))),
                KindDimension("wire_diameter", (parse_length("0.1"), parse_length("1.5"))),
                KindDimension("length", (parse_length("3"), parse_length("80"))),
            ),
            led_by="outside_diameter",
            materials=_METALS,
        ),
        PartKind(
            name="pressure_bar",
            title="pressure bar",
            dimensions=(
                KindDimension("width", (parse_length("2"), parse_length("8"))),
                KindDimension("length", (parse_length("20"), parse_length("100"))),
                KindDimension("thickness", (parse_length("0.2"), parse_length("1.5"))),
            ),
            led_by="width",
            materials=_METALS,
        ),
    ]
