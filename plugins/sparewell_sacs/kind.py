"""The kind of part: a sac, looked up by its outside diameter."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, KindDimension, PartKind

KIND: Final = "sac"
MATERIALS: Final = ("latex", "silicone", "pvc")


def _tenths(low_tenths: int, high_tenths: int) -> tuple[int, int]:
    """Return bounds given in tenths of a millimetre as nanometres."""
    tenth_nanometres = NANOMETRES_PER_MILLIMETRE // 10
    return low_tenths * tenth_nanometres, high_tenths * tenth_nanometres


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
)
