"""What the nib plugin brings: components of donors as kinds, and the grades of a line."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, PartKind, SizeTable, hook
from sparewell_nibs.calculator import LINE_WIDTH_CALCULATOR
from sparewell_nibs.kinds import KINDS
from sparewell_nibs.widths import JAPANESE_TABLE


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return the components that are taken from donors."""
    return KINDS


@hook
def calculators() -> Sequence[Calculator]:
    """Return the one rule: which grades a line's width could be called."""
    return (LINE_WIDTH_CALCULATOR,)


@hook
def size_tables() -> Sequence[SizeTable]:
    """Return the one table of grades that was measured and published."""
    return (JAPANESE_TABLE,)
