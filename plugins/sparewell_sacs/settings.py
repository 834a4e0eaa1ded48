"""Every number of the trade that the sizing rests on, with where it comes from."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import FieldType, Setting
from sparewell_sacs.kind import MATERIALS

COMMON_PRACTICE: Final = "common practice, no source"
PUBLIC_REFERENCE: Final = "a public reference article on rubber sacs and how to replace them"
PUBLIC_FAQ: Final = "a restorer's public page of questions and answers on sacs"

BAR_RULES: Final = ("twice", "once", "none")


def _length(
    name: str,
    title: str,
    micrometres: int,
    source: str = COMMON_PRACTICE,
    text: str = "",
    most_micrometres: int = 20_000,
) -> Setting:
    """Return a setting that is a length; zero is the least it can be."""
    return Setting(
        name=f"sac.{name}",
        title=title,
        type=FieldType.LENGTH,
        default=micrometres * 1_000,
        source=source,
        unit="mm",
        help=text,
        minimum=0,
        maximum=most_micrometres * 1_000,
    )


def _percent(name: str, title: str, percent: int, text: str = "") -> Setting:
    """Return a setting that is a percentage."""
    return Setting(
        name=f"sac.{name}",
        title=title,
        type=FieldType.NUMBER,
        default=Decimal(percent),
        source=COMMON_PRACTICE,
        unit="%",
        help=text,
        minimum=Decimal(0),
        maximum=Decimal(200),
    )


def _sizes(name: str, title: str, sizes: int, source: str, text: str = "") -> Setting:
    """Return a setting that counts whole sac sizes."""
    return Setting(
        name=f"sac.{name}",
        title=title,
        type=FieldType.INTEGER,
        default=sizes,
        source=source,
        unit="sizes",
        help=text,
        minimum=1,
        maximum=64,
    )


_BARREL: Final = (
    Setting(
        name="sac.bar_rule",
        title="How often the bar is taken off the bore",
        type=FieldType.CHOICE,
        default="twice",
        source=f"{PUBLIC_REFERENCE}; its older text takes the bar off once",
        help="Twice where the nipple holds the sac on the axis; once where it may lie off centre.",
        choices=BAR_RULES,
    ),
    _length(
        "bar_height",
        "Height of a bar that was not measured",
        900,
        f"{PUBLIC_REFERENCE}: up to 0.9 mm",
        "How far the highest thing stands off the wall of the barrel, in place.",
    ),
    _length(
        "generous_bar",
        "Height from which a bar brings all of its own clearance",
        900,
        f"derived here: 0.9 mm is the most that {PUBLIC_REFERENCE} gives, so taking it off leaves "
        "air beside a usual bar",
        "A lower bar lacks what it is lower by, as often as it is counted: so much clearance is "
        "added, up to the whole of it.",
    ),
    _length(
        "clearance",
        "Clearance on the diameter: the whole of it, as with no bar",
        300,
        text="0.2 to 0.4 mm is usual.",
    ),
    _length(
        "reading_uncertainty",
        "How far a caliper reading may be off",
        100,
        "derived here: one size is 0.40 mm, so 0.1 mm is needed to tell whole sizes apart",
        "Used where a reading carries no spread of its own.",
    ),
    _length(
        "bar_uncertainty",
        "How far the height of a bar may be off",
        50,
        text="Used where the reading carries no spread of its own.",
    ),
    _length("bore_depth", "Depth below which a counterbored mouth no longer matters", 10_000),
    _length(
        "taper_difference",
        "Difference between mouth and tail from which a tapered sac is worth it",
        800,
        "derived here: two sizes of 0.40 mm",
    ),
)

_SAC: Final = (
    Setting(
        name="sac.material",
        title="Material where none is asked for",
        type=FieldType.CHOICE,
        default="latex",
        source=COMMON_PRACTICE,
        choices=MATERIALS,
    ),
    _length("wall_thin", "Wall of a thin sac", 350),
    _length("wall", "Wall of an ordinary sac", 450),
    _length("wall_thick", "Wall of a thick sac", 500),
    _sizes("smallest_sold", "Smallest size that is sold", 8, COMMON_PRACTICE),
    _sizes("largest_sold", "Largest size that is sold", 24, COMMON_PRACTICE),
    _sizes("soft_from", "Size from which latex can be too soft", 22, PUBLIC_FAQ),
    Setting(
        name="sac.refuse_silicone_in_guard",
        title="Refuse silicone where the sac works inside a guard",
        type=FieldType.FLAG,
        default=True,
        source="public repair notes on pneumatic fillers: they need a flimsy wall",
        help="A refusal can be overridden with a reason.",
    ),
)

_STRETCH: Final = (
    _percent("stretch_loose", "Stretch below which a sac slides off the nipple", 3),
    _percent("stretch_marginal", "Stretch below which the grip is marginal", 5),
    _percent("stretch_good", "Stretch up to which any material is at ease", 20),
    _percent("stretch_acceptable", "Stretch up to which latex is at ease", 30),
    _percent("stretch_refused", "Stretch above which a sac is refused", 35),
)

_DECISION: Final = (
    _sizes(
        "check_barrel_sizes",
        "Sizes by which the nipple must exceed the barrel to doubt the barrel",
        3,
        COMMON_PRACTICE,
    ),
    _sizes("limits_apart_sizes", "Sizes apart at which one limit is named", 2, COMMON_PRACTICE),
    Setting(
        name="sac.try_in_slack_sizes",
        title="How much wider than the size tried in a piece may measure",
        type=FieldType.NUMBER,
        default=Decimal("0.25"),
        source="derived here: half of the half size to the next one up",
        unit="sizes",
        minimum=Decimal(0),
        maximum=Decimal(2),
    ),
)

_LENGTH: Final = (
    _length("end_gap", "Gap left at the tail of the barrel", 4_000, text="3 to 6 mm is usual."),
    _length("end_gap_guard", "Gap left at the closed end of a guard", 1_000),
    _length("short_allowed", "How much shorter than its cut length a sac may be", 5_000),
    _percent("fill_low", "Share of the sac's volume that fills, low", 55),
    _percent("fill_high", "Share of the sac's volume that fills, high", 85),
)

SETTINGS: Final = (*_BARREL, *_SAC, *_STRETCH, *_DECISION, *_LENGTH)
