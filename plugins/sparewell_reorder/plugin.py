"""The hooks of this plugin."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sparewell.plugin import Calculator, PluginTables, ReorderPolicy, ThresholdBook, hook
from sparewell_reorder.calculators import CALCULATORS
from sparewell_reorder.policies import POLICIES
from sparewell_reorder.tables import METADATA
from sparewell_reorder.thresholds import THRESHOLD_BOOK


@hook
def calculators() -> Sequence[Calculator]:
    """Return what can be worked out by hand: a threshold, a forecast, a batch size."""
    return CALCULATORS


@hook
def reorder_policies() -> Sequence[ReorderPolicy]:
    """Return the rules that say when a part is to be ordered."""
    return POLICIES


@hook
def threshold_books() -> Sequence[ThresholdBook]:
    """Return where the thresholds of parts are kept."""
    return (THRESHOLD_BOOK,)


@hook
def tables() -> Sequence[PluginTables]:
    """Return the table of thresholds, and the folder of its revisions."""
    return (PluginTables("reorder", METADATA, Path(__file__).parent / "versions"),)
