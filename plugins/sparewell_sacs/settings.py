"""Every number of the trade that the sizing rests on, with where it comes from."""

from __future__ import annotations

from functools import partial
from typing import Final

from sparewell.plugin import (
    MarginScale,
    choice_setting,
    count_setting,
    flag_setting,
    length_setting,
    number_setting,
    percent_setting,
)
from sparewell_sacs.kind import MATERIALS

PUBLIC_REFERENCE: Final = "a public reference article on rubber sacs and how to replace them"
PUBLIC_FAQ: Final = "a restorer's public page of questions and answers on sacs"

BAR_RULES: Final = ("twice", "once", "none")

_size = partial(count_setting, unit="sizes", most=64)

_BARREL: Final = (
    choice_setting(
        "sac.bar_rule",
        "How often the bar is taken off the bore",
        "twice",
        f"{PUBLIC_REFERENCE}; its older text takes the bar off once",
        "Twice where the nipple holds the sac on the axis; once where it may lie off centre.",
        choices=BAR_RULES,
    ),
    length_setting(
        "sac.bar_height",
        "Height of a bar that was not measured",
        "0.9 mm",
        f"{PUBLIC_REFERENCE}: up to 0.9 mm",
        "How far the highest thing stands off the wall of the barrel, in place.",
    ),
    length_setting(
        "sac.generous_bar",
        "Height from which a bar brings all of its own clearance",
        "0.9 mm",
        f"derived here: 0.9 mm is the most that {PUBLIC_REFERENCE} gives, so taking it off leaves "
        "air beside a usual bar",
        "A lower bar lacks what it is lower by, as often as it is counted: so much clearance is "
        "added, up to the whole of it.",
    ),
    length_setting(
        "sac.clearance",
        "Clearance on the diameter: the whole of it, as with no bar",
        "0.3 mm",
        help_text="0.2 to 0.4 mm is usual.",
    ),
    length_setting(
        "sac.reading_uncertainty",
        "How far a caliper reading may be off",
        "0.1 mm",
        "derived here: one size is 0.40 mm, so 0.1 mm is needed to tell whole sizes apart",
        "Used where a reading carries no spread of its own.",
    ),
    length_setting(
        "sac.bar_uncertainty",
        "How far the height of a bar may be off",
        "0.05 mm",
        help_text="Used where the reading carries no spread of its own.",
    ),
    length_setting(
        "sac.bore_depth", "Depth below which a counterbored mouth no longer matters", "10 mm"
    ),
    length_setting(
        "sac.taper_difference",
        "Difference between mouth and tail from which a tapered sac is worth it",
        "0.8 mm",
        "derived here: two sizes of 0.40 mm",
    ),
)

_SAC: Final = (
    choice_setting(
        "sac.material",
        "Material where none is asked for",
        "latex",
        choices=MATERIALS,
    ),
    length_setting("sac.wall_thin", "Wall of a thin sac", "0.35 mm"),
    length_setting("sac.wall", "Wall of an ordinary sac", "0.45 mm"),
    length_setting("sac.wall_thick", "Wall of a thick sac", "0.5 mm"),
    _size("sac.smallest_sold", "Smallest size that is sold", 8),
    _size("sac.largest_sold", "Largest size that is sold", 24),
    _size("sac.soft_from", "Size from which latex can be too soft", 22, PUBLIC_FAQ),
    flag_setting(
        "sac.refuse_silicone_in_guard",
        "Refuse silicone where the sac works inside a guard",
        "public repair notes on pneumatic fillers: they need a flimsy wall",
        "A refusal can be overridden with a reason.",
    ),
)

_STRETCH: Final = (
    percent_setting("sac.stretch_loose", "Stretch below which a sac slides off the nipple", "3"),
    percent_setting("sac.stretch_marginal", "Stretch below which the grip is marginal", "5"),
    percent_setting("sac.stretch_good", "Stretch up to which any material is at ease", "20"),
    percent_setting("sac.stretch_acceptable", "Stretch up to which latex is at ease", "30"),
    percent_setting("sac.stretch_refused", "Stretch above which a sac is refused", "35"),
)

_MARKS: Final = ("sac.stretch_loose", "sac.stretch_marginal", "sac.stretch_good")
SCALES: Final = (
    MarginScale(
        "stretch_percent",
        (*_MARKS, "sac.stretch_acceptable"),
        low="sac.stretch_marginal",
        high="sac.stretch_acceptable",
        materials=("latex",),
    ),
    MarginScale(
        "stretch_percent",
        _MARKS,
        low="sac.stretch_marginal",
        high="sac.stretch_good",
        materials=tuple(material for material in MATERIALS if material != "latex"),
    ),
)

_DECISION: Final = (
    _size(
        "sac.check_barrel_sizes",
        "Sizes by which the nipple must exceed the barrel to doubt the barrel",
        3,
    ),
    _size("sac.limits_apart_sizes", "Sizes apart at which one limit is named", 2),
    number_setting(
        "sac.try_in_slack_sizes",
        "How much wider than the size tried in a piece may measure",
        "0.25",
        "derived here: half of the half size to the next one up",
        unit="sizes",
        most="2",
    ),
)

_LENGTH: Final = (
    length_setting(
        "sac.end_gap", "Gap left at the tail of the barrel", "4 mm", help_text="3 to 6 mm is usual."
    ),
    length_setting("sac.end_gap_guard", "Gap left at the closed end of a guard", "1 mm"),
    length_setting(
        "sac.short_allowed", "How much shorter than its cut length a sac may be", "5 mm"
    ),
    percent_setting("sac.fill_low", "Share of the sac's volume that fills, low", "55"),
    percent_setting("sac.fill_high", "Share of the sac's volume that fills, high", "85"),
)

SETTINGS: Final = (*_BARREL, *_SAC, *_STRETCH, *_DECISION, *_LENGTH)
