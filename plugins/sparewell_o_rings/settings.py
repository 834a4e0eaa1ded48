"""Every number of the trade that the rings are judged by, with where it comes from."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sparewell.plugin import FieldType, Setting
from sparewell_o_rings.section import SectionModel

COMMON_PRACTICE: Final = "common practice, no source"
DESIGN_GUIDES: Final = "several published O-ring design guides"
AS4716_WORST: Final = "AS4716-type glands at worst, as one public listing gives them"

BANDS: Final = ("pens", "published")
TOLERANCE_CLASSES: Final = ("A", "B")


def _percent(name: str, title: str, percent: str, source: str, text: str = "") -> Setting:
    """Return a setting that is a percentage."""
    return Setting(
        name=f"o_ring.{name}",
        title=title,
        type=FieldType.NUMBER,
        default=Decimal(percent),
        source=source,
        unit="%",
        help=text,
        minimum=Decimal(0),
        maximum=Decimal(200),
    )


def _length(name: str, title: str, micrometres: int, source: str, text: str = "") -> Setting:
    """Return a setting that is a length up to 100 mm."""
    return Setting(
        name=f"o_ring.{name}",
        title=title,
        type=FieldType.LENGTH,
        default=micrometres * 1_000,
        source=source,
        unit="mm",
        help=text,
        minimum=0,
        maximum=100_000_000,
    )


def _count(name: str, title: str, count: int, text: str = "") -> Setting:
    """Return a setting that counts entries of a list."""
    return Setting(
        name=f"o_ring.{name}",
        title=title,
        type=FieldType.INTEGER,
        default=count,
        source=COMMON_PRACTICE,
        unit="rings",
        help=text,
        minimum=1,
        maximum=200,
    )


_BANDS: Final = (
    Setting(
        name="o_ring.bands",
        title="Which bands of squeeze decide",
        type=FieldType.CHOICE,
        default="pens",
        source=COMMON_PRACTICE,
        help="Pens hold next to no pressure and the thumb pays for friction, so their bands lie "
        "lower than the published ranges, which were made for machines.",
        choices=BANDS,
    ),
    _percent("squeeze_moving_low", "Least squeeze in a pen, moving", "7", COMMON_PRACTICE),
    _percent("squeeze_moving_high", "Most squeeze in a pen, moving", "12", COMMON_PRACTICE),
    _percent("squeeze_static_low", "Least squeeze in a pen, still", "12", COMMON_PRACTICE),
    _percent("squeeze_static_high", "Most squeeze in a pen, still", "20", COMMON_PRACTICE),
    _percent("published_moving_low", "Least squeeze published, moving", "10", DESIGN_GUIDES),
    _percent("published_moving_high", "Most squeeze published, moving", "20", DESIGN_GUIDES),
    _percent("published_radial_low", "Least squeeze published, still, radial", "15", DESIGN_GUIDES),
    _percent("published_radial_high", "Most squeeze published, still, radial", "25", DESIGN_GUIDES),
    _percent("published_face_low", "Least squeeze published, still, face", "20", DESIGN_GUIDES),
    _percent("published_face_high", "Most squeeze published, still, face", "30", DESIGN_GUIDES),
    _percent(
        "squeeze_worst_moving",
        "Squeeze at worst from which a moving ring is tight",
        "20",
        f"{DESIGN_GUIDES}: 10 to 20 % for reciprocating rods",
    ),
    _percent(
        "squeeze_worst_static",
        "Squeeze at worst from which a still ring is tight",
        "30",
        AS4716_WORST,
    ),
    _percent(
        "squeeze_refused",
        "Squeeze above which a ring is refused",
        "40",
        "derived here: no published gland squeezes more than 37 % at worst",
    ),
)

_STRETCH: Final = (
    _percent("stretch_ideal", "Stretch that is best", "2", DESIGN_GUIDES),
    _percent("stretch_least", "Least stretch at worst", "0", AS4716_WORST),
    _percent(
        "stretch_most_moving",
        "Most stretch of a moving ring",
        "5",
        f"{DESIGN_GUIDES}: 1 to 5 %; one gives 2 to 5 % for moving rings",
    ),
    _percent(
        "stretch_most_static",
        "Most stretch of a still ring",
        "8",
        "one published design guide: 2 to 8 % below 50 mm; others advise against more than 5 %",
    ),
    _percent(
        "stretch_refused",
        "Stretch above which a ring is refused",
        "25",
        "the published tables of thinned sections end there",
    ),
    _percent(
        "slack_most",
        "How much larger than its seat a ring may be",
        "3",
        "one published design guide: compression of the circumference up to 3 %",
    ),
    _percent(
        "fitting_stretch_most",
        "Stretch for a moment, on the way over a piston's edge",
        "50",
        "one published design guide",
        "Above it the answer says so; small rings often go above it.",
    ),
)

_FILL: Final = (
    _percent("fill_low", "Usual fill of a groove, low", "60", DESIGN_GUIDES),
    _percent("fill_high", "Usual fill of a groove, high", "85", DESIGN_GUIDES),
    _percent(
        "fill_worst",
        "Fill at worst from which a groove is too full",
        "95",
        "derived here: published static glands reach 91 % at worst, and rubber does not compress",
    ),
)

_SEARCH: Final = (
    Setting(
        name="o_ring.section_model",
        title="How a stretched section is reckoned",
        type=FieldType.CHOICE,
        default=SectionModel.AS4716.value,
        source="AS4716 appendix A / AS5857: the one published model with a branch for small rings",
        help="handbook: catalogue ORD 5700. constant_volume: derived. none: not thinned.",
        choices=tuple(SectionModel),
    ),
    _length(
        "first_sections",
        "Cross-sections looked at first",
        2_000,
        COMMON_PRACTICE,
        "Grooves in pens are shallow. Thicker rings are looked at where none of these would do.",
    ),
    Setting(
        name="o_ring.free_sections",
        title="Cross-sections in which metric rings are sold freely",
        type=FieldType.LENGTHS,
        default=tuple(tenths * 100_000 for tenths in (5, 6, 8, 10, 12, 15, 16, 18, 20)),
        source=COMMON_PRACTICE,
        unit="mm",
    ),
    Setting(
        name="o_ring.free_step",
        title="Step of inside diameters in which metric rings are sold freely",
        type=FieldType.LENGTH,
        default=100_000,
        source=COMMON_PRACTICE,
        unit="mm",
        help="0.1 to 0.5 mm is usual.",
        minimum=10_000,
        maximum=10_000_000,
    ),
    _length("free_smallest", "Smallest inside diameter sold freely", 1_000, COMMON_PRACTICE),
    Setting(
        name="o_ring.free_class",
        title="Tolerance class of free metric rings",
        type=FieldType.CHOICE,
        default="B",
        source="ISO 3601-1:2012, other sections; class A of them rests on one listing",
        choices=TOLERANCE_CLASSES,
    ),
    _count("rings_listed", "How many rings are listed at most", 20),
    _count("free_listed", "How many free metric rings are listed at most", 6),
)

_PIECES: Final = (
    Setting(
        name="o_ring.measured_spread",
        title="How far a measured ring may be off what the bag says",
        type=FieldType.LENGTH,
        default=30_000,
        source="derived here: the mean of three readings, each good to 0.05 mm (common practice)",
        unit="mm",
        help="Measure the section first, lightly, at three places; use 0.05 mm for one reading.",
        minimum=0,
        maximum=1_000_000,
    ),
    Setting(
        name="o_ring.refuse_unsuitable_material",
        title="Refuse a piece whose material does not stand the duty, the grease or the flush",
        type=FieldType.FLAG,
        default=True,
        source="elastomer handbooks, general knowledge, not made for pens",
        help="A refusal can be overridden with a reason.",
    ),
)

SETTINGS: Final = (*_BANDS, *_STRETCH, *_FILL, *_SEARCH, *_PIECES)
