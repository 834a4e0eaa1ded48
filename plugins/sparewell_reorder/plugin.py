"""The hooks of this plugin."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, ReorderPolicy, hook
from sparewell_reorder.calculators import CALCULATORS
from sparewell_reorder.policies import POLICIES


@hook
def calculators() -> Sequence[Calculator]:
    """Return what can be worked out by hand: a threshold, a forecast, a batch size."""
    return CALCULATORS


@hook
def reorder_policies() -> Sequence[ReorderPolicy]:
    """Return the rules that say when a part is to be ordered."""
    return POLICIES
