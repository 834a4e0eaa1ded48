"""What the rubber plugin brings: how long each material keeps, by three schemes."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import AgeingRule, Calculator, hook
from sparewell_rubber.calculator import SHELF_LIFE_CALCULATOR
from sparewell_rubber.rules import RULES


@hook
def ageing_rules() -> Sequence[AgeingRule]:
    """Return the rules of both publications and of the workshop's own scheme."""
    return tuple(RULES.values())


@hook
def calculators() -> Sequence[Calculator]:
    """Return the one calculator: until when stored rubber should be fitted."""
    return (SHELF_LIFE_CALCULATOR,)
