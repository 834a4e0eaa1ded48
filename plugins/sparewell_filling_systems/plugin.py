"""The hooks of this plugin: every filling system, and the kinds of part that only they need."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import FillingSystem, PartKind, hook
from sparewell_filling_systems.droppers import DROPPERS
from sparewell_filling_systems.kinds import KINDS
from sparewell_filling_systems.others import OTHERS
from sparewell_filling_systems.pistons import PISTONS
from sparewell_filling_systems.plungers import PLUNGERS
from sparewell_filling_systems.pneumatics import PNEUMATICS
from sparewell_filling_systems.sac_filled import SAC_FILLED


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return what wears out in one system and is no sac, ring, washer, spring or donor piece."""
    return KINDS


@hook
def filling_systems() -> Sequence[FillingSystem]:
    """Return the templates of the repairs."""
    return (*SAC_FILLED, *PNEUMATICS, *PLUNGERS, *PISTONS, *DROPPERS, *OTHERS)
