"""What the sac plugin brings: the kind and its calculator."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, PartKind, hook
from sparewell_sacs.calculator import SAC_CALCULATOR
from sparewell_sacs.kind import SAC


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return the one kind: the sac."""
    return (SAC,)


@hook
def calculators() -> Sequence[Calculator]:
    """Return the one sizing rule: the sac for a measured pen."""
    return (SAC_CALCULATOR,)
