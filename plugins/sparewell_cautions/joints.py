"""Cautions for what is glued, greased or soaked: which substance spoils which joint or part.

What a rule does not name (material, step, substance) may be anything.
"""

from __future__ import annotations

from typing import Final

from sparewell.plugin import COMMON_PRACTICE, CautionRule
from sparewell_cautions.sources import REPAIR

JOINTS: Final = (
    CautionRule(
        "casein_heat",
        "Casein: heat softens and warps it, and dries it until it cracks. Little, even and short, "
        "and never over steam.",
        COMMON_PRACTICE,
        material="casein",
        step="heat",
    ),
    CautionRule(
        "silicone_shellac",
        "Shellac does not hold silicone: silicone adhesive, left 24 hours, or shellac with the sac "
        "whipped on with thread.",
        COMMON_PRACTICE,
        substance="silicone",
    ),
    CautionRule(
        "latex_petroleum",
        "Oil and petroleum jelly soften latex until it gives way: silicone grease or none.",
        "elastomer handbooks, general knowledge, not made for pens",
        substance="petroleum",
    ),
    CautionRule(
        "grease_before_glue",
        "Grease keeps glue and sealant from holding: glue first, let it set, and grease last and "
        "away from the joint.",
        COMMON_PRACTICE,
        substance="silicone grease",
    ),
    CautionRule(
        "hard_rubber_hot_water",
        "Hard rubber: hot water turns it brown at once and bends it. No hot water.",
        REPAIR,
        material="hard rubber",
        substance="hot water",
    ),
    CautionRule(
        "glued_ultrasonic",
        "An ultrasonic bath shakes glued joints, inlays and bands loose: take glued parts out of "
        "it, or leave it.",
        COMMON_PRACTICE,
        step="ultrasonic",
    ),
    CautionRule(
        "dry_cork",
        "A dry cork leaks and scores its bore: soak it in molten wax or grease before it goes in, "
        "and melt that in a water bath, without a flame.",
        COMMON_PRACTICE,
        step="soak_cork",
    ),
)
