"""What a ring would have to measure: at the ideal stretch, with its squeeze inside the band."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, localcontext

from sparewell_o_rings.glands import Gland
from sparewell_o_rings.section import SectionModel, lost_share
from sparewell_o_rings.tolerances import PRECISE
from sparewell_o_rings.verdicts import RingBands


@dataclass(frozen=True)
class WantedRing:
    """Nanometres: the inside diameter, and the least and the most of the section."""

    inside: int
    section_least: int
    section_most: int


def wanted_for(gland: Gland, bands: RingBands, model: SectionModel) -> WantedRing:
    """Return the ring that would suit the nominal gland, if it could be had to measure."""
    with localcontext(PRECISE):
        stretch = bands.stretch_ideal / 100
        inside = Decimal(gland.resting.nominal) / (1 + stretch)
        return WantedRing(
            inside=round(inside),
            section_least=_section(gland, model, stretch, inside, bands.squeeze.low),
            section_most=_section(gland, model, stretch, inside, bands.squeeze.high),
        )


def _section(
    gland: Gland, model: SectionModel, stretch: Decimal, inside: Decimal, squeeze: Decimal
) -> int:
    """Return the free section that the gap squeezes by so many per cent, to the nanometre.

    What a section loses depends a little on the section itself, so it is found by halving.
    """
    gap = Decimal(gland.twice_gap_span.nominal) / 2
    left = gap / (1 - squeeze / 100)
    low, high = int(left), 2 * int(left) + 1
    while high - low > 1:
        middle = (low + high) // 2
        thinned = middle * (1 - lost_share(model, stretch, inside / middle))
        low, high = (middle, high) if thinned < left else (low, middle)
    return high
