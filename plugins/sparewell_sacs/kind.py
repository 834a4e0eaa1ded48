"""The kind of part: a sac, looked up by its outside diameter."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from sparewell.plugin import (
    NANOMETRES_PER_64TH,
    KindDimension,
    PartKind,
)

KIND: Final = "sac"
MATERIALS: Final = ("latex", "silicone", "pvc")

# A number in 64ths of an inch, and words that say nothing of the size: "16", "SAC-15½", "No. 18".
_NUMBER: Final = re.compile(
    r"(?:(?:sac|sack|size|no|nr)\b)?[-. #]*(?P<whole>[0-9]{1,2})(?P<half>[.,]5| ?½| 1/2)?(?:/64)?"
    r"(?:[- ]+(?:straight|str|necked|tapered|latex|silicone|pvc|sac|sack|in))*",
    re.IGNORECASE,
)
_SMALLEST, _LARGEST = 8, 26


def read_label(text: str) -> Mapping[str, int]:
    """Return the outside diameter that the number on a packet stands for."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None or not _SMALLEST <= int(found["whole"]) <= _LARGEST:
        return {}
    halves = 2 * int(found["whole"]) + bool(found["half"])
    return {"outside_diameter": halves * NANOMETRES_PER_64TH // 2}


SAC: Final = PartKind(
    name=KIND,
    title="Sac",
    led_by="outside_diameter",
    dimensions=(
        KindDimension.usual("outside_diameter", "3", "10.5"),
        KindDimension.usual("inside_diameter", "2", "9.7"),
        KindDimension.usual("thickness", "0.2", "0.8"),
        KindDimension.usual("length", "15", "110"),
        KindDimension.usual("neck_diameter", "3", "9.5"),
        KindDimension.usual("tip_diameter", "2.5", "10"),
    ),
    materials=MATERIALS,
    counted_by=("piece",),
    read_label=read_label,
    size_step=NANOMETRES_PER_64TH,
    glued=True,
)
