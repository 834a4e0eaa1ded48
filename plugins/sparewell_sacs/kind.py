"""The kind of part: a sac, looked up by its outside diameter."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from sparewell.plugin import (
    NANOMETRES_PER_64TH,
    NANOMETRES_PER_MILLIMETRE,
    KindDimension,
    PartKind,
)

KIND: Final = "sac"
MATERIALS: Final = ("latex", "silicone", "pvc")


def _tenths(low_tenths: int, high_tenths: int) -> tuple[int, int]:
    """Return bounds given in tenths of a millimetre as nanometres."""
    tenth_nanometres = NANOMETRES_PER_MILLIMETRE // 10
    return low_tenths * tenth_nanometres, high_tenths * tenth_nanometres


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
        KindDimension("outside_diameter", plausible=_tenths(30, 105)),
        KindDimension("inside_diameter", plausible=_tenths(20, 97)),
        KindDimension("thickness", plausible=_tenths(2, 8)),
        KindDimension("length", plausible=_tenths(150, 1100)),
        KindDimension("neck_diameter", plausible=_tenths(30, 95)),
        KindDimension("tip_diameter", plausible=_tenths(25, 100)),
    ),
    materials=MATERIALS,
    counted_by=("piece",),
    read_label=read_label,
    size_step=NANOMETRES_PER_64TH,
    glued=True,
)
