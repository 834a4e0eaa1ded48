"""Every number of the trade that springs and bars rest on, with where it comes from."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import FieldType, Setting
from sparewell_springs.ends import ENDS
from sparewell_springs.kinds import BAR_KINDS
from sparewell_springs.materials import WIRES

COMMON_PRACTICE: Final = "common practice, no source"
SHIGLEY: Final = "Shigley's Mechanical Engineering Design, chapter 10"


def _length(name: str, title: str, micrometres: int, text: str = "") -> Setting:
    """Return a setting that is a length; zero is the least it can be."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.LENGTH,
        default=micrometres * 1_000,
        source=COMMON_PRACTICE,
        unit="mm",
        help=text,
        minimum=0,
        maximum=50_000_000,
    )


def _number(
    name: str,
    title: str,
    default: str,
    *,
    unit: str = "%",
    source: str = COMMON_PRACTICE,
    most: int = 100,
    text: str = "",
) -> Setting:
    """Return a setting that is a number, a percentage as a rule."""
    return Setting(
        name=name,
        title=title,
        type=FieldType.NUMBER,
        default=Decimal(default),
        source=source,
        unit=unit,
        help=text,
        minimum=Decimal(0),
        maximum=Decimal(most),
    )


SPRING_SETTINGS: Final = (
    Setting(
        name="spring.ends",
        title="Ends where none are named",
        type=FieldType.CHOICE,
        default="squared",
        source=COMMON_PRACTICE,
        choices=tuple(ENDS),
    ),
    Setting(
        name="spring.material",
        title="Wire where none is named",
        type=FieldType.CHOICE,
        default="music_wire",
        source=COMMON_PRACTICE,
        choices=tuple(WIRES),
    ),
    _length(
        "spring.wire_uncertainty",
        "How far a reading of the wire may be off",
        10,
        "Used where no reading carries a spread of its own.",
    ),
    _length(
        "spring.diameter_uncertainty",
        "How far a reading of the coil may be off",
        50,
        "Used where no reading carries a spread of its own.",
    ),
    _number(
        "spring.index_least", "Index below which a spring is hard to wind and overstressed", "4",
        unit="", source=SHIGLEY,
    ),
    _number(
        "spring.index_most", "Index above which a spring tangles and buckles", "12",
        unit="", source=SHIGLEY,
    ),
    _number(
        "spring.yield_share", "Share of the tensile strength at which wire yields in torsion", "45",
        source=f"{SHIGLEY}: cold-drawn wire before its set is removed",
    ),
    _length("spring.rod_clearance", "Room between a spring and its rod, on the diameter", 200),
    _length(
        "spring.bore_clearance", "Room between a spring and its bore, on the diameter", 200,
        "A spring grows a little wider as it is pressed.",
    ),
    _length("spring.solid_reserve", "Travel left before a spring is solid", 300),
    _length("spring.like_diameter", "How far off a coil may be to count as the like", 100),
    _length("spring.like_wire", "How far off a wire may be to count as the like", 20),
    _number("spring.like_length", "How far off a free length may be to count as the like", "5"),
    _number("spring.force_good", "How far off the force of a replacement may be and be good", "15"),
    _number(
        "spring.force_most", "How far off the force of a replacement may be at most", "40", most=500
    ),
    _length("spring.search_band", "How far off the diameter of a replacement may be", 1_500),
)  # fmt: skip

BAR_SETTINGS: Final = (
    Setting(
        name="pressure_bar.kind",
        title="Kind of bar where none is named",
        type=FieldType.CHOICE,
        default="j_bar",
        source=COMMON_PRACTICE,
        choices=BAR_KINDS,
    ),
    _length("pressure_bar.tenon", "Tenon of the section where it was not measured", 10_000),
    _length("pressure_bar.j_gap", "Gap between a J-bar's end and the section", 2_000),
    _length(
        "pressure_bar.button_play", "Play of a button bar between section and button, at rest", 500
    ),
    _length(
        "pressure_bar.button_short", "How much shorter than that a button bar may be, to be tried",
        500, "It bows a little less: within what depth and tenon may be off.",
    ),
    _number("pressure_bar.width_best", "Width of a bar, as a share of the bore", "55"),
    _number("pressure_bar.width_least", "The least width, as a share of the bore", "35"),
    _number("pressure_bar.width_most", "The most width, as a share of the bore", "75"),
    _length(
        "pressure_bar.over_slot", "How much wider than the lever's slot a bar must be", 500,
        "So that it does not come out through the slot.",
    ),
    _length("pressure_bar.like_width", "How far off the old bar's width counts as the same", 300),
)  # fmt: skip
