"""Every number of the trade that springs and bars rest on, with where it comes from."""

from __future__ import annotations

from functools import partial
from typing import Final

from sparewell.plugin import choice_setting, length_setting, number_setting, percent_setting
from sparewell_springs.ends import ENDS
from sparewell_springs.kinds import BAR_KINDS
from sparewell_springs.materials import WIRES

SHIGLEY: Final = "Shigley's Mechanical Engineering Design, chapter 10"

_length = partial(length_setting, most="50 mm")
_percent = partial(percent_setting, most=100)

SPRING_SETTINGS: Final = (
    choice_setting(
        "spring.ends",
        "Ends where none are named",
        "squared",
        choices=tuple(ENDS),
    ),
    choice_setting(
        "spring.material",
        "Wire where none is named",
        "music_wire",
        choices=tuple(WIRES),
    ),
    _length(
        "spring.wire_uncertainty",
        "How far a reading of the wire may be off",
        "0.01 mm",
        help_text="Used where no reading carries a spread of its own.",
    ),
    _length(
        "spring.diameter_uncertainty",
        "How far a reading of the coil may be off",
        "0.05 mm",
        help_text="Used where no reading carries a spread of its own.",
    ),
    number_setting(
        "spring.index_least",
        "Index below which a spring is hard to wind and overstressed",
        "4",
        SHIGLEY,
    ),
    number_setting(
        "spring.index_most", "Index above which a spring tangles and buckles", "12", SHIGLEY
    ),
    _percent(
        "spring.yield_share",
        "Share of the tensile strength at which wire yields in torsion",
        "45",
        f"{SHIGLEY}: cold-drawn wire before its set is removed",
    ),
    _length("spring.rod_clearance", "Room between a spring and its rod, on the diameter", "0.2 mm"),
    _length(
        "spring.bore_clearance",
        "Room between a spring and its bore, on the diameter",
        "0.2 mm",
        help_text="A spring grows a little wider as it is pressed.",
    ),
    _length("spring.solid_reserve", "Travel left before a spring is solid", "0.3 mm"),
    _length("spring.like_diameter", "How far off a coil may be to count as the like", "0.1 mm"),
    _length("spring.like_wire", "How far off a wire may be to count as the like", "0.02 mm"),
    _percent("spring.like_length", "How far off a free length may be to count as the like", "5"),
    _percent(
        "spring.force_good", "How far off the force of a replacement may be and be good", "15"
    ),
    _percent(
        "spring.force_most", "How far off the force of a replacement may be at most", "40", most=500
    ),
    _length("spring.search_band", "How far off the diameter of a replacement may be", "1.5 mm"),
)

BAR_SETTINGS: Final = (
    choice_setting(
        "pressure_bar.kind",
        "Kind of bar where none is named",
        "j_bar",
        choices=BAR_KINDS,
    ),
    _length("pressure_bar.tenon", "Tenon of the section where it was not measured", "10 mm"),
    _length("pressure_bar.j_gap", "Gap between a J-bar's end and the section", "2 mm"),
    _length(
        "pressure_bar.button_play",
        "Play of a button bar between section and button, at rest",
        "0.5 mm",
    ),
    _length(
        "pressure_bar.button_short",
        "How much shorter than that a button bar may be, to be tried",
        "0.5 mm",
        help_text="It bows a little less: within what depth and tenon may be off.",
    ),
    _percent("pressure_bar.width_best", "Width of a bar, as a share of the bore", "55"),
    _percent("pressure_bar.width_least", "The least width, as a share of the bore", "35"),
    _percent("pressure_bar.width_most", "The most width, as a share of the bore", "75"),
    _length(
        "pressure_bar.over_slot",
        "How much wider than the lever's slot a bar must be",
        "0.5 mm",
        help_text="So that it does not come out through the slot.",
    ),
    _length(
        "pressure_bar.like_width", "How far off the old bar's width counts as the same", "0.3 mm"
    ),
)
