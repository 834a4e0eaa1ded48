"""What a part of a pen is expected to be, by the formulas of the trade.

Nothing here asks the calculators under test.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import exp, floor
from typing import Any

ONE_64TH = 25.4 / 64
AIR = 0.3  # on the diameter, where nothing else is in the way
OVER_BORE, UNDER_ROD, PACKING_THICKNESS = 0.1, 0.03, 0.79375
OVER_BACKING, HEAD_STEM, HOLE_UNDER, HEAD_THICKNESS = 0.1, 1.5875, 0.1, 0.635
CORK_OVER, WASHER_ROOM, SEAT_SQUEEZE = 0.15, 0.1, 0.15
STEEL_MPA, DEAD_COILS = 82_700, 2


@dataclass(frozen=True)
class Line:
    """One need of a pen: which it is in the template, the pieces that suit, pieces that do not.

    `result` holds members of the calculator's answer, `margins` those of the piece's verdict.
    Without a decoy a person chooses, since no calculator does.
    """

    position: int
    kind: str
    right: Mapping[str, float]
    decoy: Mapping[str, float] | None = None
    quantity: int = 1
    material: str | None = None
    result: Mapping[str, Any] = field(default_factory=dict)
    margins: Mapping[str, float] = field(default_factory=dict)


def sac(position: int, room: float, nipple: float) -> Line:
    """Return a sac for the room it has: the whole 64ths that go into the smaller of the two."""
    size = floor(min(room, nipple) / ONE_64TH)
    outside = round(size * ONE_64TH - 0.05, 2)
    return Line(
        position,
        "sac",
        {"outside_diameter": outside, "inside_diameter": outside - 0.9, "length": 75},
        {"outside_diameter": outside + 1.5, "inside_diameter": outside + 0.6, "length": 75},
        material="latex",
        result={"size": size},
    )


def bar(kind_position: int, width: float, length: float) -> Line:
    """Return a bar that is wide and long enough; the decoy is too short."""
    return Line(
        kind_position,
        "pressure_bar",
        {"width": width, "length": length},
        {"width": width, "length": 25},
    )


def packing(position: int, bore: float, rod: float, quantity: int = 1, **more: Any) -> Line:
    """Return packings: a hair over the cavity, a little under the rod; cork over and under more."""
    is_cork = more.get("material") == "cork"
    outside = bore + (CORK_OVER if is_cork else OVER_BORE)
    inside = rod - HOLE_UNDER if is_cork else rod * (1 - UNDER_ROD)
    dimensions = {"outside_diameter": outside, "inside_diameter": inside}
    right = {name: round(value, 3) for name, value in dimensions.items()}
    return Line(
        position,
        "gasket",
        right | {"thickness": 0.79},
        right | {"outside_diameter": outside - 1.5, "thickness": 0.79},
        quantity,
        result=right,
        **more,
    )


def head_washer(position: int, backing: float) -> Line:
    """Return a head washer: a hair over its backing washer, its hole under the stem."""
    right = {
        "outside_diameter": round(backing + OVER_BACKING, 4),
        "inside_diameter": HEAD_STEM - HOLE_UNDER,
        "thickness": HEAD_THICKNESS,
    }
    decoy = right | {"outside_diameter": backing - 1}
    return Line(position, "gasket", right, decoy, result=right)


def washer(position: int, seat: float, through: float, depth: float) -> Line:
    """Return a flat washer: a little room all round, thick enough to be squeezed."""
    right = {
        "outside_diameter": round(seat - WASHER_ROOM, 3),
        "inside_diameter": round(through + WASHER_ROOM, 3),
        "thickness": round(depth / (1 - SEAT_SQUEEZE), 3),
    }
    decoy = right | {"outside_diameter": seat + 1}
    return Line(position, "gasket", right, decoy, result=right)


def ring(
    position: int,
    *,
    resting: float,
    gap: float,
    inside: float,
    section: float,
    quantity: int = 1,
) -> Line:
    """Return rings with the squeeze that AS4716 gives: stretched, a section grows thinner."""
    stretch = resting / inside - 1
    if inside / section <= 2.95:
        lost = 100 * stretch / (315 * exp(-inside / section) + 165 + 100 * stretch)
    elif stretch <= 0.03:
        lost = 0.0001 + 1.06 * stretch - 10 * stretch**2
    else:
        lost = 0.0056 + 0.59 * stretch - 0.46 * stretch**2
    thinned = section * (1 - lost)
    squeeze = (thinned - gap) / thinned
    return Line(
        position,
        "o_ring",
        {"inside_diameter": inside, "cross_section": section},
        {"inside_diameter": inside, "cross_section": gap * 0.9},
        quantity,
        "nbr",
        margins={"stretch_percent": 100 * stretch, "squeeze_percent": 100 * squeeze},
    )


def spring(position: int, wire: float, outside: float, total: int, free: float) -> Line:
    """Return a spring like the old one; its rate is G d^4 / 8 D^3 n."""
    mean, active = outside - wire, total - DEAD_COILS
    rate = STEEL_MPA * wire**4 / (8 * mean**3 * active)
    right = {"outside_diameter": outside, "wire_diameter": wire, "length": free}
    return Line(
        position,
        "spring",
        right,
        right | {"outside_diameter": outside * 2},
        result={"rate_n_per_mm": rate},
    )


def by_hand(position: int, kind: str, **dimensions: float) -> Line:
    """Return a piece that a person chooses, since no calculator does."""
    return Line(position, kind, dimensions)
