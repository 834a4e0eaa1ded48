"""The hooks of this plugin: the kind `gasket`, its calculators, a table of published sizes."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, PartKind, SizeTable, hook
from sparewell_gaskets.calculator import CALCULATORS
from sparewell_gaskets.kind import GASKET
from sparewell_gaskets.tables import HEAD_WASHERS


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return the one kind: flat washers and packings."""
    return (GASKET,)


@hook
def calculators() -> Sequence[Calculator]:
    """Return the rule, and the same rule for one case each, as plans of jobs need it."""
    return CALCULATORS


@hook
def size_tables() -> Sequence[SizeTable]:
    """Return the published head washers."""
    return (HEAD_WASHERS,)
