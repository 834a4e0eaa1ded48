"""The filling systems that hold their ink in a sac, under generic names."""

from __future__ import annotations

from sparewell.plugin import FillingSystem, hook
from sparewell_filling_systems.systems import SAC_FILLED


@hook
def filling_systems() -> list[FillingSystem]:
    """Return the templates of the repairs."""
    return list(SAC_FILLED)
