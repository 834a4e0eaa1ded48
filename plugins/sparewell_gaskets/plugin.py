"""The hooks of this plugin: washers and the sheet they come from, calculators, published sizes."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, PartKind, SizeTable, hook
from sparewell_gaskets.calculator import CALCULATORS
from sparewell_gaskets.kind import GASKET, SHEET
from sparewell_gaskets.tables import HEAD_WASHERS


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return flat washers and packings, and the sheet that they are punched out of."""
    return GASKET, SHEET


@hook
def calculators() -> Sequence[Calculator]:
    """Return the rule, and the same rule for one case each, as plans of jobs need it."""
    return CALCULATORS


@hook
def size_tables() -> Sequence[SizeTable]:
    """Return the published head washers."""
    return (HEAD_WASHERS,)
