"""The working: every step with its numbers, so that it can be followed with a pencil."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from sparewell.plugin import first_capital, length_text, number_text, percent_text
from sparewell_o_rings.assess import Percent
from sparewell_o_rings.glands import WORDS, GlandKind
from sparewell_o_rings.ranking import FoundRings, Ranked
from sparewell_o_rings.section import MODEL_NAMES
from sparewell_o_rings.sizes import Ring
from sparewell_o_rings.wanted import WantedRing
from sparewell_o_rings.wording import millimetres_text


def working_of(found: FoundRings, wanted: WantedRing) -> list[str]:
    """Return the steps in the order in which they are taken."""
    return [*_of_gland(found, wanted), *(_of_best(found, found.rings[0]) if found.rings else ())]


def _of_gland(found: FoundRings, wanted: WantedRing) -> Iterator[str]:
    """Yield the gap, the bands, and the ring that would be ideal."""
    gland, bands = found.gland, found.bands
    resting, facing = WORDS[gland.resting_name], WORDS[gland.facing_name]
    if gland.kind is GlandKind.FACE:
        how = f"the {facing} of {gland.facing.text}"
    else:
        how = f"half of {gland.facing.text} of {facing} less {gland.resting.text} of {resting}"
    yield f"Gap: {how} = {gland.gap.text}."
    yield (
        f"Bands, {gland.duty.value}: squeeze {bands.squeeze.text} (pens {bands.pens.text}; "
        f"published {bands.published.text}), stretch {bands.stretch.text}."
    )
    yield (
        f"At {percent_text(bands.stretch_ideal)} of stretch the ring would be "
        f"{millimetres_text(wanted.inside)} inside, with a section of "
        f"{millimetres_text(wanted.section_least)} to {millimetres_text(wanted.section_most)}."
    )
    yield f"The section of a stretched ring is reckoned by {MODEL_NAMES[found.model]}."


def _of_best(found: FoundRings, best: Ranked) -> Iterator[str]:
    """Yield the figures of the first ring, nominal and at the extremes."""
    gland, ring, assessment = found.gland, best.ring, best.assessment
    stretch, squeeze = assessment.stretch, assessment.squeeze
    section = assessment.stretched_section_nanometres
    yield (
        f"{first_capital(ring.name)}: {length_text(ring.inside_nanometres)} inside plus and minus "
        f"{length_text(ring.inside_tolerance_nanometres)}, section "
        f"{length_text(ring.section_nanometres)} plus and minus "
        f"{length_text(ring.section_tolerance_nanometres)}."
    )
    yield (
        f"Stretch: {length_text(gland.resting.nominal)} over "
        f"{length_text(ring.inside_nanometres)} = {number_text(stretch.nominal, 2)} %, from "
        f"{number_text(stretch.least, 2)} to {number_text(stretch.most, 2)} % by tolerance."
    )
    if section is not None and squeeze is not None:
        yield from _of_section(ring, section, squeeze)
    fill = assessment.fill
    if fill is not None and gland.width is not None:
        yield (
            f"Fill: of a groove {gland.width.text} wide it takes "
            f"{number_text(fill.nominal, 2)} %, from {number_text(fill.least, 2)} to "
            f"{number_text(fill.most, 2)} %."
        )
    if assessment.peripheral_compression is not None:
        yield (
            "Its outer edge is shortened by "
            f"{number_text(assessment.peripheral_compression, 1)} % in the cavity; published "
            "guides recommend 3 % at most, which rings as small as these do not keep."
        )
    yield f"Verdict: {best.verdict.value}, from the extremes. {first_capital(best.why)}."


def _of_section(ring: Ring, section: Decimal, squeeze: Percent) -> Iterator[str]:
    """Yield what is left of the section, and what the gap takes off it."""
    lost = 100 - section * 100 / Decimal(ring.section_nanometres)
    yield (
        f"Section: {number_text(lost, 2)} % is lost, {number_text(section / 1_000_000, 4)} mm "
        "is left."
    )
    yield (
        f"Squeeze: what the gap takes off it is {number_text(squeeze.nominal, 2)} %, from "
        f"{number_text(squeeze.least, 2)} to {number_text(squeeze.most, 2)} % by tolerance."
    )
