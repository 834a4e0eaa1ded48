"""What the O-ring plugin brings: the kind, two calculators, four published tables of sizes."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, PartKind, SizeTable, hook
from sparewell_o_rings.calculator import O_RING_CALCULATOR
from sparewell_o_rings.identity import RING_IDENTITY_CALCULATOR
from sparewell_o_rings.kind import O_RING
from sparewell_o_rings.tables import SIZE_TABLES


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return the O-ring: inside diameter and cross-section say everything."""
    return (O_RING,)


@hook
def calculators() -> Sequence[Calculator]:
    """Return the ring for a gland, and the size of a measured ring."""
    return (O_RING_CALCULATOR, RING_IDENTITY_CALCULATOR)


@hook
def size_tables() -> Sequence[SizeTable]:
    """Return the published tables of ring sizes."""
    return SIZE_TABLES
