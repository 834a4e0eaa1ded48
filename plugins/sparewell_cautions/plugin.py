"""What the caution plugin brings: cautions, and what pieces do to pens; how a flush is mixed."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.plugin import Calculator, CautionRule, PieceRule, hook
from sparewell_cautions.calculator import FLUSH_MIX_CALCULATOR
from sparewell_cautions.dismissible import DISMISSIBLE
from sparewell_cautions.joints import JOINTS
from sparewell_cautions.never_dismissible import NEVER_DISMISSIBLE
from sparewell_cautions.pieces import PIECE_RULES


@hook
def caution_rules() -> Sequence[CautionRule]:
    """Return the cautions, the ones that cannot be switched off first."""
    return (*NEVER_DISMISSIBLE, *DISMISSIBLE, *JOINTS)


@hook
def piece_rules() -> Sequence[PieceRule]:
    """Return what is kept out of a pen for what the pen is made of, and what is said of it."""
    return PIECE_RULES


@hook
def calculators() -> Sequence[Calculator]:
    """Return the one calculator: how to mix a weak ammonia flush, and when not to."""
    return (FLUSH_MIX_CALCULATOR,)
