"""The hooks: what this plugin brings to the service.

The kind stands here, the calculator in `calculator.py`, its picture in `drawing.py`, the table in
`tables.py` and the table's migrations in `versions/`.
"""

from __future__ import annotations

from pathlib import Path

from sparewell.plugin import (
    Calculator,
    KindDimension,
    PartKind,
    PluginTables,
    hook,
    parse_length,
)
from sparewell_bushings.calculator import BUSHING
from sparewell_bushings.tables import METADATA


@hook
def part_kinds() -> list[PartKind]:
    """Return the bush; outside the usual sizes a reading only earns a warning."""
    return [
        PartKind(
            name="bushing",
            title="lever pin bush",
            dimensions=(
                KindDimension("outside_diameter", (parse_length("0.8"), parse_length("4"))),
                KindDimension("inside_diameter", (parse_length("0.4"), parse_length("2.5"))),
                KindDimension("length", (parse_length("0.8"), parse_length("6"))),
            ),
            led_by="outside_diameter",
            materials=("brass", "nickel silver"),
        )
    ]


@hook
def calculators() -> list[Calculator]:
    """Return the one sizing rule."""
    return [BUSHING]


@hook
def tables() -> list[PluginTables]:
    """Return the table and the folder of its revisions, which holds installed or not."""
    return [PluginTables("bushings", METADATA, Path(__file__).parent / "versions")]
