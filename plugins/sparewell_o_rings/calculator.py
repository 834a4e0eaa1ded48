"""The calculator `o_ring`: which rings a gland takes, best first."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from sparewell.plugin import Answer, Calculator, Inputs, rounded
from sparewell_o_rings.assess import Percent
from sparewell_o_rings.drawing import drawing
from sparewell_o_rings.fit import envelope, judge, price
from sparewell_o_rings.glands import gland_of
from sparewell_o_rings.inputs import INPUTS
from sparewell_o_rings.kind import KIND
from sparewell_o_rings.materials import GAS_TIGHTNESS, HANDBOOKS, suitabilities_of
from sparewell_o_rings.notices import cautions_of, warnings_of
from sparewell_o_rings.outputs import OUTPUTS
from sparewell_o_rings.ranking import FoundRings, Ranked, found_for
from sparewell_o_rings.section import MODEL_NAMES
from sparewell_o_rings.settings import SCALES, SETTINGS
from sparewell_o_rings.verdicts import PercentBand
from sparewell_o_rings.wanted import WantedRing, wanted_for
from sparewell_o_rings.working import working_of

_PLACES: Final = 3

SOURCES: Final = (
    "Sizes: AS568, ISO 3601-1:2012, JIS B 2401-1:2012, BS 4518 (partial): see the size tables.",
    (
        "Section after stretch: AS4716 appendix A / AS5857, by default; O-ring handbook (catalogue "
        "ORD 5700) and constant volume by setting. They disagree: the answer names the one used."
    ),
    "Stretch, gap, squeeze, fill: published O-ring design guides; plane geometry.",
    "Bands of squeeze for pens: common practice, no source. Published ranges: design guides.",
    "Tolerance of free sizes: ISO 3601-1:2012, other sections.",
    f"Materials: {HANDBOOKS}.",
)


def compute(inputs: Inputs) -> Answer:
    """Answer which rings suit the gland; raise ImpossibleInput where readings contradict."""
    gland = gland_of(inputs)
    found = found_for(inputs)
    wanted = wanted_for(gland, found.bands, found.model)
    suitabilities = suitabilities_of(inputs, gland.duty)
    gap = gland.gap
    result = {
        "rings": [_ring_members(one) for one in found.rings],
        "free_rings": [_ring_members(one) for one in found.free],
        "section_model": MODEL_NAMES[found.model],
        "gap": {"nominal": gap.nominal, "min": gap.least, "max": gap.most},
        "duty": gland.duty.value,
        "bands": _bands_members(found),
        "wanted": _wanted_members(wanted),
        "materials": [
            {
                "material": each.material,
                "rating": each.rating.value,
                "gas_tightness": GAS_TIGHTNESS[each.material].value,
                "why": each.why,
            }
            for each in suitabilities
        ],
        "working": working_of(found, wanted),
    }
    return Answer(
        result=result,
        warnings=warnings_of(inputs, found, suitabilities),
        cautions=cautions_of(inputs, found),
    )


def _ring_members(ranked: Ranked) -> Mapping[str, object]:
    """Return one ring as the result carries it."""
    ring, assessment = ranked.ring, ranked.assessment
    section = assessment.stretched_section_nanometres
    return {
        "standard": ring.standard.value,
        "size": ring.size,
        "also": list(ring.also),
        "inside_diameter": ring.inside_nanometres,
        "cross_section": ring.section_nanometres,
        "inside_diameter_tolerance": ring.inside_tolerance_nanometres,
        "cross_section_tolerance": ring.section_tolerance_nanometres,
        "tolerance_assumed": ring.assumed,
        "stretch_percent": _percent_members(assessment.stretch),
        "squeeze_percent": _percent_or_none(assessment.squeeze),
        "fill_percent": _percent_or_none(assessment.fill),
        "stretched_section": None if section is None else round(section),
        "peripheral_compression_percent": _or_none(assessment.peripheral_compression),
        "fitting_stretch_percent": _or_none(assessment.fitting_stretch),
        "outside_band_percent": _or_none(ranked.outside_band),
        "verdict": ranked.verdict.value,
        "why": ranked.why,
    }


def _or_none(percent: Decimal | None) -> Decimal | None:
    """Return a percentage rounded, where there is one."""
    return None if percent is None else rounded(percent, _PLACES)


def _percent_or_none(percent: Percent | None) -> Mapping[str, Decimal] | None:
    """Return a figure with its extremes, where there is one."""
    return None if percent is None else _percent_members(percent)


def _percent_members(percent: Percent) -> Mapping[str, Decimal]:
    """Return a figure with its extremes."""
    return {
        "nominal": rounded(percent.nominal, _PLACES),
        "min": rounded(percent.least, _PLACES),
        "max": rounded(percent.most, _PLACES),
    }


def _bands_members(found: FoundRings) -> Mapping[str, object]:
    """Return the bands, each with its bounds."""
    bands = found.bands
    by_name: Mapping[str, PercentBand] = {
        "squeeze_percent": bands.squeeze,
        "pens_squeeze_percent": bands.pens,
        "published_squeeze_percent": bands.published,
        "stretch_percent": bands.stretch,
        "fill_percent": bands.fill,
    }
    return {name: {"low": band.low, "high": band.high} for name, band in by_name.items()}


def _wanted_members(wanted: WantedRing) -> Mapping[str, object]:
    """Return what a ring would have to measure."""
    return {
        "inside_diameter": wanted.inside,
        "cross_section": {"min": wanted.section_least, "max": wanted.section_most},
    }


O_RING_CALCULATOR: Final = Calculator(
    name=KIND,
    title="O-ring for a gland",
    help="Which rings seal a measured gland, by the extremes of all tolerances.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("rings.size", "rings.verdict"),
    asks_first=("gland", "bore", "groove_diameter", "rod", "groove_width"),
    compute=compute,
    sources=SOURCES,
    settings=SETTINGS,
    kind=KIND,
    envelope=envelope,
    judge=judge,
    drawing=drawing,
    price=price,
    scales=SCALES,
)
