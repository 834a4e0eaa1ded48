"""What a fitted piece does to the pen it lies in, by the materials of both."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import PieceRule
from sparewell_cautions.sources import REPAIR

PIECE_RULES: Final = (
    PieceRule(
        "pvc_in_plastic",
        "plasticiser from soft PVC melts celluloid, polystyrene and moulded plastic, for good",
        REPAIR,
        piece="pvc",
        pens=("celluloid", "polystyrene", "moulded plastic"),
        refuses=True,
        unknown_kinds=("sac",),
    ),
    PieceRule(
        "latex_in_celluloid",
        "if the celluloid is pale or clear, latex may darken it: a risk, not a fact",
        "published repair guides, which disagree",
        piece="latex",
        pens=("celluloid",),
    ),
)
