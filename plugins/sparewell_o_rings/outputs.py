"""What the calculator answers, member by member."""

from __future__ import annotations

from typing import Final

from sparewell.plugin import Output, OutputType, Verdict
from sparewell_o_rings.materials import Rating
from sparewell_o_rings.sizes import Standard

_NUMBER: Final = OutputType.NUMBER
_TEXT: Final = OutputType.TEXT
_LENGTH: Final = OutputType.LENGTH
_GROUP: Final = OutputType.GROUP

_EXTREMES: Final = (
    Output("nominal", _NUMBER, "As meant."),
    Output("min", _NUMBER, "The least over all tolerances."),
    Output("max", _NUMBER, "The most over all tolerances."),
)
_BOUNDS: Final = (
    Output("low", _NUMBER, "The least, in per cent."),
    Output("high", _NUMBER, "The most, in per cent."),
)
_LENGTHS: Final = (
    Output("min", _LENGTH, "The least."),
    Output("max", _LENGTH, "The most."),
)

_RING: Final = (
    Output("standard", _TEXT, "Where the size comes from.", choices=tuple(Standard)),
    Output("size", _TEXT, "What the standard calls it."),
    Output("also", _TEXT, "The same ring in other standards.", many=True),
    Output("inside_diameter", _LENGTH, "Of the free ring."),
    Output("cross_section", _LENGTH, "Of the free ring."),
    Output("inside_diameter_tolerance", _LENGTH, "Plus and minus, as reckoned with."),
    Output("cross_section_tolerance", _LENGTH, "Plus and minus, as reckoned with."),
    Output("tolerance_assumed", OutputType.FLAG, "No table prints it: ISO 3601-1 class B or A."),
    Output("stretch_percent", _GROUP, "Seat over free inside diameter.", members=_EXTREMES),
    Output(
        "squeeze_percent",
        _GROUP,
        "What the gap takes off the stretched section; negative where it does not touch; null "
        "where the ring is stretched further than the model of its section goes.",
        nullable=True,
        members=_EXTREMES,
    ),
    Output(
        "fill_percent",
        _GROUP,
        "Stretched section over the groove's room; null while its width is unknown, "
        "and where the squeeze is.",
        nullable=True,
        members=_EXTREMES,
    ),
    Output(
        "stretched_section",
        _LENGTH,
        "The nominal section once it is stretched; null where the model does not go so far.",
        nullable=True,
    ),
    Output(
        "peripheral_compression_percent",
        _NUMBER,
        "How much a cavity shortens the ring's outer edge; null but for a rod.",
        nullable=True,
    ),
    Output(
        "fitting_stretch_percent",
        _NUMBER,
        "Stretch for a moment over an edge as wide as the bore; null but for a piston.",
        nullable=True,
    ),
    Output(
        "outside_band_percent",
        _NUMBER,
        "Points the nominal squeeze lies outside its band; null where there is no squeeze.",
        nullable=True,
    ),
    Output("verdict", _TEXT, "From the extremes.", choices=tuple(Verdict)),
    Output("why", _TEXT, "The reasons, what decides first."),
)

OUTPUTS: Final = (
    Output("rings", _GROUP, "The rings, the best first.", many=True, members=_RING),
    Output(
        "free_rings",
        _GROUP,
        "Metric rings of no standard that come near, the best first.",
        many=True,
        members=_RING,
    ),
    Output("section_model", _TEXT, "How the stretched section was reckoned."),
    Output(
        "gap",
        _GROUP,
        "The height left for the ring.",
        members=(
            Output("nominal", _LENGTH, "As measured."),
            Output("min", _LENGTH, "The least over all tolerances."),
            Output("max", _LENGTH, "The most over all tolerances."),
        ),
    ),
    Output("duty", _TEXT, "The duty reckoned with."),
    Output(
        "bands",
        _GROUP,
        "What the extremes are held against, and what stands beside it.",
        members=(
            Output("squeeze_percent", _GROUP, "The band that decides.", members=_BOUNDS),
            Output("pens_squeeze_percent", _GROUP, "For pens.", members=_BOUNDS),
            Output("published_squeeze_percent", _GROUP, "As published.", members=_BOUNDS),
            Output("stretch_percent", _GROUP, "The stretch allowed.", members=_BOUNDS),
            Output("fill_percent", _GROUP, "The usual fill.", members=_BOUNDS),
        ),
    ),
    Output(
        "wanted",
        _GROUP,
        "What a ring without tolerance would have to measure at the ideal stretch.",
        members=(
            Output("inside_diameter", _LENGTH, "At the ideal stretch."),
            Output("cross_section", _GROUP, "Inside the band of squeeze.", members=_LENGTHS),
        ),
    ),
    Output(
        "materials",
        _GROUP,
        "How each material stands the duty, the grease and the flush, the first choice first: "
        "nitrile wherever it is good.",
        many=True,
        members=(
            Output("material", _TEXT, "The material."),
            Output("rating", _TEXT, "The worst of what it meets.", choices=tuple(Rating)),
            Output("gas_tightness", _TEXT, "How it holds air.", choices=tuple(Rating)),
            Output("why", _TEXT, "The reason, in a sentence."),
        ),
    ),
    Output("working", _TEXT, "Every step with its numbers.", many=True),
)
