"""Two pens of each shipped system, with what each is expected to be given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from support.lines_of_pens import (
    AIR,
    ONE_64TH,
    Line,
    bar,
    by_hand,
    head_washer,
    packing,
    ring,
    sac,
    spring,
    washer,
)


@dataclass(frozen=True)
class Pen:
    """A pen, its readings, and what it is to be given; what is dropped is dropped when open."""

    system: str
    called: str
    readings: Mapping[str, Any]
    lines: tuple[Line, ...]
    dropped: tuple[int, ...] = ()


def _barrel(bore: float, bar_height: float, nipple: float, depth: float = 62) -> dict[str, Any]:
    return {
        "barrel_bore": {"value": bore, "instrument": "plug gauge", "spread": 0.05},
        "bar_height": bar_height,
        "nipple_diameter": f"{nipple} mm",
        "barrel_depth": depth,
        "tenon_length": 8,
    }


def _guard(bore: float, nipple: float) -> dict[str, Any]:
    return {"guard_bore": bore, "nipple_diameter": nipple, "barrel_depth": 60, "tenon_length": 7}


def _coil(wire: float, outside: float, total: int, free: float) -> dict[str, Any]:
    return {
        "wire_diameter": wire,
        "outside_diameter": outside,
        "total_coils": total,
        "free_length": free,
    }


SAC_PENS = (
    Pen("lever", "olive", _barrel(8.0, 0.9, 6.4), (sac(0, 8.0 - 1.8, 6.4),)),
    Pen(
        "lever",
        "wide, with a rusted bar",
        _barrel(9.0, 0.9, 7.2, 70),
        (sac(0, 9.0 - 1.8, 7.2), bar(1, 5.0, 75)),
    ),
    Pen("button", "slender", _barrel(7.4, 0.9, 5.6), (sac(0, 7.4 - 1.8, 5.6),)),
    Pen(
        "button",
        "large, button and spring gone",
        _barrel(9.4, 0.9, 7.5, 70) | {"button_hole": 5.2} | _coil(0.4, 5.0, 12, 15),
        (
            sac(0, 9.4 - 1.8, 7.5),
            bar(1, 5.0, 90),
            by_hand(2, "button", outside_diameter=5.1),
            spring(3, 0.4, 5.0, 12, 15),
        ),
    ),
    Pen("crescent", "black chased", _barrel(8.6, 0.9, 6.8), (sac(0, 8.6 - 1.8, 6.8),)),
    Pen(
        "crescent",
        "large, without its ring",
        _barrel(9.8, 0.9, 8.1) | {"ring_seat": 12.1, "hump_gap": 5, "bar_width": 5},
        (
            sac(0, 9.8 - 1.8, 8.1),
            by_hand(1, "pressure_bar", width=5, length=60),
            by_hand(2, "locking_ring", inside_diameter=12.2, width=4.8),
        ),
    ),
    Pen("squeeze_bar", "grey", _guard(7.6, 6.0), (sac(0, 7.6 - AIR, 6.0),)),
    Pen(
        "squeeze_bar",
        "with a broken tube",
        _guard(8.2, 6.4) | {"feed_hole": 1.6, "breather_length": 42},
        (sac(0, 8.2 - AIR, 6.4), by_hand(1, "breather_tube", outside_diameter=1.6, length=45)),
    ),
)

PNEUMATIC_PENS = (
    Pen(
        "pneumatic",
        "slender",
        _guard(7.4, 6.2) | {"rod": 6.2, "bore": 9.4},
        (sac(0, 7.4 - AIR, 6.2), ring(1, resting=6.2, gap=1.6, inside=6.07, section=1.78)),
    ),
    Pen(
        "pneumatic",
        "thick",
        _guard(8.4, 6.9) | {"rod": 7.8, "bore": 11.0},
        (sac(0, 8.4 - AIR, 6.9), ring(1, resting=7.8, gap=1.6, inside=7.65, section=1.78)),
    ),
    Pen(
        "pneumatic_extending_tube",
        "ordinary",
        _guard(7.0, 5.6)
        | {"rod": 6.2, "bore": 9.4, "fill_tube": 2.4, "point_seat": 5.0, "point_seat_depth": 1.6},
        (
            sac(0, 7.0 - AIR, 5.6),
            ring(1, resting=6.2, gap=1.6, inside=6.07, section=1.78),
            packing(2, 5.0, 2.4),
        ),
    ),
    Pen(
        "pneumatic_extending_tube",
        "oversize, with a tired spring",
        _guard(7.6, 5.9)
        | {"rod": 7.8, "bore": 11.0, "fill_tube": 2.8, "point_seat": 5.6}
        | _coil(0.3, 4.6, 20, 32),
        (
            sac(0, 7.6 - AIR, 5.9),
            ring(1, resting=7.8, gap=1.6, inside=7.65, section=1.78),
            packing(2, 5.6, 2.8),
            spring(3, 0.3, 4.6, 20, 32),
        ),
    ),
)

PUMP_PENS = (
    Pen(
        "plunger_vacuum",
        "amber, three packings",
        {"backing_washer": "21/64 in", "barrel_bore": 8.4, "rod": 1.6, "bore": 5.4},
        (head_washer(0, 21 * ONE_64TH), packing(1, 5.4, 1.6, 3)),
    ),
    Pen(
        "plunger_vacuum",
        "large, with a corroded rod",
        {
            "backing_washer": "25/64 in",
            "barrel_bore": 9.98,
            "rod": 2.4,
            "bore": 6.4,
            "seat_depth": 1.6,
            "rod_length": 82,
        },
        (
            head_washer(0, 25 * ONE_64TH),
            packing(1, 6.4, 2.4, 2),
            by_hand(2, "rod", outside_diameter=2.4, length=85),
        ),
    ),
    Pen(
        "diaphragm_pump",
        "slender",
        {"filler_collar": 6.4, "pellet_hole": 2.4},
        (
            by_hand(0, "diaphragm", inside_diameter=6.2, tip_diameter=2.6),
            by_hand(1, "pellet", outside_diameter=2.6),
        ),
    ),
    Pen(
        "diaphragm_pump",
        "standard, spring rusted through",
        {"filler_collar": 7.4, "pellet_hole": 2.8, "feed_hole": 1.5, "breather_length": 50}
        | _coil(0.5, 6.2, 16, 40),
        (
            by_hand(0, "diaphragm", inside_diameter=7.2, tip_diameter=3.0),
            by_hand(1, "pellet", outside_diameter=3.0),
            by_hand(2, "breather_tube", outside_diameter=1.5, length=52),
            spring(3, 0.5, 6.2, 16, 40),
        ),
    ),
)

PISTON_PENS = (
    Pen(
        "piston",
        "striped, two rings",
        {"bore": 7.7, "groove_diameter": 4.6, "groove_width": 2.4},
        (ring(0, resting=4.6, gap=1.55, inside=4.47, section=1.78, quantity=2),),
    ),
    Pen(
        "piston",
        "old, with a cork and a tail seal",
        {
            "bore": 7.2,
            "spindle": 2.6,
            "tail_groove": 7.9,
            "tail_groove_depth": 1.45,
            "tail_groove_width": 2.4,
        },
        (
            packing(1, 7.2, 2.6, material="cork"),
            ring(2, resting=7.9, gap=1.45, inside=7.65, section=1.78),
        ),
        dropped=(0,),
    ),
    Pen(
        "retracting_nib_safety",
        "large, two corks",
        {"rod": 3.0, "bore": 6.8, "seat_depth": 1.6},
        (packing(0, 6.8, 3.0, 2),),
    ),
    Pen(
        "retracting_nib_safety",
        "ladies', cap seal and pin gone",
        {
            "rod": 2.4,
            "bore": 5.2,
            "cap_seat": 8.0,
            "cap_seat_hole": 3.0,
            "cap_seat_depth": 0.9,
            "pin": 1.0,
        },
        (
            packing(0, 5.2, 2.4),
            washer(1, 8.0, 3.0, 0.9),
            by_hand(2, "spiral", outside_diameter=1.0),
        ),
    ),
)

OTHER_PENS = (
    Pen(
        "eyedropper",
        "red, joint weeps",
        {"section_thread": 7.9, "joint_gap": 1.45},
        (ring(0, resting=7.9, gap=1.45, inside=7.65, section=1.78),),
    ),
    Pen(
        "eyedropper",
        "large",
        {"section_thread": 9.5, "joint_gap": 1.45},
        (ring(0, resting=9.5, gap=1.45, inside=9.25, section=1.78),),
    ),
    Pen(
        "eyedropper_shut_off",
        "brown",
        {"rod": 1.8, "bore": 5.0, "seat_depth": 1.6},
        (packing(0, 5.0, 1.8, 2),),
    ),
    Pen(
        "eyedropper_shut_off",
        "large, everything worn",
        {
            "rod": 2.0,
            "bore": 5.6,
            "rod_length": 95,
            "valve_seat": 6.0,
            "valve_seat_hole": 2.2,
            "valve_seat_depth": 1.0,
            "section_thread": 7.9,
            "joint_gap": 1.45,
        },
        (
            packing(0, 5.6, 2.0),
            washer(1, 6.0, 2.2, 1.0),
            ring(2, resting=7.9, gap=1.45, inside=7.65, section=1.78),
            by_hand(3, "rod", outside_diameter=2.0, length=96),
        ),
    ),
    Pen(
        "converter",
        "school pen",
        {"nozzle": 2.5},
        (by_hand(0, "converter_seal", inside_diameter=2.3),),
    ),
    Pen(
        "converter",
        "wide nozzle",
        {"nozzle": 3.4},
        (by_hand(0, "converter_seal", inside_diameter=3.2),),
    ),
    Pen(
        "cap",
        "inner cap cracked",
        {"inner_cap_bore": 8.4, "inner_cap_depth": 28},
        (by_hand(0, "inner_cap", inside_diameter=8.4, depth=28),),
    ),
    Pen(
        "cap",
        "inner cap and disc",
        {"inner_cap_bore": 9.6, "inner_cap_depth": 30, "inner_cap_disc": 9.0},
        (
            by_hand(0, "inner_cap", inside_diameter=9.6, depth=30),
            by_hand(1, "gasket", outside_diameter=9.0, thickness=1),
        ),
    ),
)

PENS = (*SAC_PENS, *PNEUMATIC_PENS, *PUMP_PENS, *PISTON_PENS, *OTHER_PENS)
