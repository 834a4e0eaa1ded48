"""Every number of the trade that the rings are judged by, with where it comes from."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from sparewell.plugin import (
    MarginScale,
    choice_setting,
    count_setting,
    flag_setting,
    length_setting,
    lengths_setting,
    percent_setting,
)
from sparewell_o_rings.section import SectionModel

DESIGN_GUIDES: Final = "several published O-ring design guides"
AS4716_WORST: Final = "AS4716-type glands at worst, as one public listing gives them"

BANDS: Final = ("pens", "published")
TOLERANCE_CLASSES: Final = ("A", "B")


_BANDS: Final = (
    choice_setting(
        "o_ring.bands",
        "Which bands of squeeze decide",
        "pens",
        help_text="Pens hold next to no pressure and the thumb pays for friction, so their bands "
        "lie lower than the published ranges, which were made for machines.",
        choices=BANDS,
    ),
    percent_setting("o_ring.squeeze_moving_low", "Least squeeze in a pen, moving", "7"),
    percent_setting("o_ring.squeeze_moving_high", "Most squeeze in a pen, moving", "12"),
    percent_setting("o_ring.squeeze_static_low", "Least squeeze in a pen, still", "12"),
    percent_setting("o_ring.squeeze_static_high", "Most squeeze in a pen, still", "20"),
    percent_setting(
        "o_ring.published_moving_low", "Least squeeze published, moving", "10", DESIGN_GUIDES
    ),
    percent_setting(
        "o_ring.published_moving_high", "Most squeeze published, moving", "20", DESIGN_GUIDES
    ),
    percent_setting(
        "o_ring.published_radial_low", "Least squeeze published, still, radial", "15", DESIGN_GUIDES
    ),
    percent_setting(
        "o_ring.published_radial_high", "Most squeeze published, still, radial", "25", DESIGN_GUIDES
    ),
    percent_setting(
        "o_ring.published_face_low", "Least squeeze published, still, face", "20", DESIGN_GUIDES
    ),
    percent_setting(
        "o_ring.published_face_high", "Most squeeze published, still, face", "30", DESIGN_GUIDES
    ),
    percent_setting(
        "o_ring.squeeze_worst_moving",
        "Squeeze at worst from which a moving ring is tight",
        "20",
        f"{DESIGN_GUIDES}: 10 to 20 % for reciprocating rods",
    ),
    percent_setting(
        "o_ring.squeeze_worst_static",
        "Squeeze at worst from which a still ring is tight",
        "30",
        AS4716_WORST,
    ),
    percent_setting(
        "o_ring.squeeze_refused",
        "Squeeze above which a ring is refused",
        "40",
        "derived here: no published gland squeezes more than 37 % at worst",
    ),
)

_STRETCH: Final = (
    percent_setting("o_ring.stretch_ideal", "Stretch that is best", "2", DESIGN_GUIDES),
    percent_setting("o_ring.stretch_least", "Least stretch at worst", "0", AS4716_WORST),
    percent_setting(
        "o_ring.stretch_most_moving",
        "Most stretch of a moving ring",
        "5",
        f"{DESIGN_GUIDES}: 1 to 5 %; one gives 2 to 5 % for moving rings",
    ),
    percent_setting(
        "o_ring.stretch_most_static",
        "Most stretch of a still ring",
        "8",
        "one published design guide: 2 to 8 % below 50 mm; others advise against more than 5 %",
    ),
    percent_setting(
        "o_ring.stretch_refused",
        "Stretch above which a ring is refused",
        "25",
        "the published tables of thinned sections end there",
    ),
    percent_setting(
        "o_ring.slack_most",
        "How much larger than its seat a ring may be",
        "3",
        "one published design guide: compression of the circumference up to 3 %",
    ),
    percent_setting(
        "o_ring.fitting_stretch_most",
        "Stretch for a moment, on the way over a piston's edge",
        "50",
        "one published design guide",
        "Above it the answer says so; small rings often go above it.",
    ),
)

_FILL: Final = (
    percent_setting("o_ring.fill_low", "Usual fill of a groove, low", "60", DESIGN_GUIDES),
    percent_setting("o_ring.fill_high", "Usual fill of a groove, high", "85", DESIGN_GUIDES),
    percent_setting(
        "o_ring.fill_worst",
        "Fill at worst from which a groove is too full",
        "95",
        "derived here: published static glands reach 91 % at worst, and rubber does not compress",
    ),
)

_SEARCH: Final = (
    choice_setting(
        "o_ring.section_model",
        "How a stretched section is reckoned",
        SectionModel.AS4716.value,
        "AS4716 appendix A / AS5857: the one published model with a branch for small rings",
        "handbook: catalogue ORD 5700. constant_volume: derived. none: not thinned.",
        choices=tuple(SectionModel),
    ),
    length_setting(
        "o_ring.first_sections",
        "Cross-sections looked at first",
        "2 mm",
        help_text="Grooves in pens are shallow. Thicker rings are looked at where none of these "
        "would do.",
        most="100 mm",
    ),
    lengths_setting(
        "o_ring.free_sections",
        "Cross-sections in which metric rings are sold freely",
        ("0.5", "0.6", "0.8", "1", "1.2", "1.5", "1.6", "1.8", "2"),
    ),
    length_setting(
        "o_ring.free_step",
        "Step of inside diameters in which metric rings are sold freely",
        "0.1 mm",
        help_text="0.1 to 0.5 mm is usual.",
        least="0.01 mm",
        most="10 mm",
    ),
    length_setting(
        "o_ring.free_smallest", "Smallest inside diameter sold freely", "1 mm", most="100 mm"
    ),
    choice_setting(
        "o_ring.free_class",
        "Tolerance class of free metric rings",
        "B",
        "ISO 3601-1:2012, other sections; class A of them rests on one listing",
        choices=TOLERANCE_CLASSES,
    ),
    count_setting(
        "o_ring.rings_listed", "How many rings are listed at most", 20, unit="rings", most=200
    ),
    count_setting(
        "o_ring.free_listed",
        "How many free metric rings are listed at most",
        6,
        unit="rings",
        most=200,
    ),
)

_PIECES: Final = (
    length_setting(
        "o_ring.measured_spread",
        "How far a measured ring may be off what the bag says",
        "0.03 mm",
        "derived here: the mean of three readings, each good to 0.05 mm (common practice)",
        "Measure the section first, lightly, at three places; use 0.05 mm for one reading.",
        most="1 mm",
    ),
    flag_setting(
        "o_ring.refuse_unsuitable_material",
        "Refuse a piece whose material does not stand the duty, the grease or the flush",
        "elastomer handbooks, general knowledge, not made for pens",
        "A refusal can be overridden with a reason.",
    ),
)

SETTINGS: Final = (*_BANDS, *_STRETCH, *_FILL, *_SEARCH, *_PIECES)


def _scale(margin: str, low: str, high: str, **given: str) -> MarginScale:
    low, high = f"o_ring.{low}", f"o_ring.{high}"
    return MarginScale(margin, (low, high), low, high, given=given)


def _squeeze(name: str, bands: str, **given: str) -> MarginScale:
    scale = _scale("squeeze_percent", f"{name}_low", f"{name}_high", **given)
    return replace(scale, while_set={"o_ring.bands": bands})


SCALES: Final = (
    _squeeze("squeeze_moving", "pens", duty="moving"),
    _squeeze("squeeze_static", "pens", duty="static"),
    _squeeze("published_moving", "published", duty="moving"),
    _squeeze("published_radial", "published", duty="static", gland="piston"),
    _squeeze("published_radial", "published", duty="static", gland="rod"),
    _squeeze("published_face", "published", duty="static", gland="face"),
    _scale("stretch_percent", "stretch_least", "stretch_most_moving", duty="moving"),
    _scale("stretch_percent", "stretch_least", "stretch_most_static", duty="static"),
    _scale("fill_percent", "fill_low", "fill_high"),
)
