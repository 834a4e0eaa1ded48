"""The hooks of this plugin: coil springs, and the bars that press a sac."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, PartKind, hook
from sparewell_springs.bar_calculator import PRESSURE_BAR_CALCULATOR
from sparewell_springs.calculator import SPRING_CALCULATOR
from sparewell_springs.kinds import PRESSURE_BAR_KIND, SPRING_KIND


@hook
def part_kinds() -> Sequence[PartKind]:
    """Return the coil spring and the pressure bar."""
    return (SPRING_KIND, PRESSURE_BAR_KIND)


@hook
def calculators() -> Sequence[Calculator]:
    """Return the rule of each."""
    return (SPRING_CALCULATOR, PRESSURE_BAR_CALCULATOR)
