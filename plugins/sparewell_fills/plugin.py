"""What the fill plugin brings: one calculator."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, hook
from sparewell_fills.calculator import FILL_CALCULATOR


@hook
def calculators() -> Sequence[Calculator]:
    """Return the one rule: what a filler takes."""
    return (FILL_CALCULATOR,)
