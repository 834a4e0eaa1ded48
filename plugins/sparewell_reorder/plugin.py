"""What the reorder plugin brings: policies, calculators, and the table of thresholds."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sparewell.plugin import Calculator, PluginTables, ReorderPolicy, hook
from sparewell_reorder.calculators import CALCULATORS
from sparewell_reorder.policies import POLICIES
from sparewell_reorder.tables import METADATA, THRESHOLD


@hook
def calculators() -> Sequence[Calculator]:
    """Return what can be worked out by hand: a threshold, a forecast, a batch size."""
    return CALCULATORS


@hook
def reorder_policies() -> Sequence[ReorderPolicy]:
    """Return the rules that say when a part is to be ordered."""
    return POLICIES


@hook
def tables() -> Sequence[PluginTables]:
    """Return the table of thresholds, and the folder of its revisions."""
    versions = Path(__file__).parent / "versions"
    return (PluginTables("reorder", METADATA, versions, thresholds=THRESHOLD),)
