"""The search: which rings to judge, in which order, and how many to show.

The phases: the one ring that was given; else the tables, thin cross-sections first; where none
of those would do, the tables' thicker rings and the free metric sizes as well. Rings that cannot
come near the gland are passed over by whole-number bounds before anything is reckoned.

The order: verdict, how far the nominal squeeze lies outside its band, how far the nominal stretch
is from the ideal, the standard (AS568 first, free sizes last), and the size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor
from typing import Final, cast

from sparewell.plugin import (
    ImpossibleInput,
    Inputs,
    Plain,
    Verdict,
    length_text,
    worked_out_once,
)
from sparewell_o_rings.assess import Assessment, assess
from sparewell_o_rings.glands import Gland, gland_of
from sparewell_o_rings.section import SectionModel
from sparewell_o_rings.sizes import (
    MERGED_RINGS,
    STANDARD_ORDER,
    Ring,
    Standard,
    free_ring,
    standard_like,
)
from sparewell_o_rings.verdicts import GOOD, VERDICT_ORDER, RingBands, bands_of, verdict_of
from sparewell_o_rings.wording import ring_text

MOST_REFUSED: Final = 5
_FURTHEST: Final = Decimal("Infinity")


@dataclass(frozen=True)
class Ranked:
    """One ring with its figures, its verdict and its place in the order."""

    ring: Ring
    assessment: Assessment
    verdict: Verdict
    reasons: Sequence[Callable[[], str]]
    outside_band: Decimal | None
    from_ideal: Decimal

    @property
    def key(self) -> tuple[int, Decimal, Decimal, int, int, int, str]:
        """Return the place in the order."""
        return (
            VERDICT_ORDER[self.verdict],
            _FURTHEST if self.outside_band is None else self.outside_band,
            self.from_ideal,
            STANDARD_ORDER[self.ring.standard],
            self.ring.section_nanometres,
            self.ring.inside_nanometres,
            self.ring.size,
        )

    @property
    def why(self) -> str:
        """Return the reasons in one sentence, what decides first."""
        return "; ".join(reason() for reason in self.reasons)


@dataclass(frozen=True)
class FoundRings:
    """What the search found: the rings, and the free metric ones apart."""

    gland: Gland
    bands: RingBands
    model: SectionModel
    rings: Sequence[Ranked]
    free: Sequence[Ranked]
    given: bool


@worked_out_once
def model_of(inputs: Inputs) -> SectionModel:
    """Return the model of the stretched section that the workshop uses."""
    return SectionModel(inputs.setting_text("o_ring.section_model"))


def rank(gland: Gland, bands: RingBands, model: SectionModel, ring: Ring) -> Ranked:
    """Return one ring with its figures and its verdict."""
    assessment = assess(gland, ring, model)
    judged = verdict_of(bands, assessment)
    return Ranked(
        ring=ring,
        assessment=assessment,
        verdict=judged.verdict,
        reasons=judged.reasons,
        outside_band=(
            None
            if assessment.squeeze is None
            else bands.squeeze.outside(assessment.squeeze.nominal)
        ),
        from_ideal=abs(assessment.stretch.nominal - bands.stretch_ideal),
    )


@worked_out_once
def found_for(inputs: Inputs) -> FoundRings:
    """Return the rings for a gland in order: the one given, else the tables' and the free ones."""
    gland, bands, model = gland_of(inputs), bands_of(inputs), model_of(inputs)
    group = inputs.group("ring")
    if group:
        one = rank(gland, bands, model, given_ring(group))
        return FoundRings(gland, bands, model, [one], [], given=True)
    thin_nanometres = inputs.setting_length("o_ring.first_sections")
    near = [ring for ring in MERGED_RINGS if _comes_near(gland, bands, ring)]
    ranked = _ranked(
        gland,
        bands,
        model,
        (ring for ring in near if ring.section_nanometres <= thin_nanometres),
    )
    free = _ranked(gland, bands, model, _free_rings(inputs, gland, bands))
    if not _any_good(ranked):
        thick = (ring for ring in near if ring.section_nanometres > thin_nanometres)
        ranked = sorted([*ranked, *_ranked(gland, bands, model, thick)], key=lambda one: one.key)
    if not _any_good(ranked):
        ranked = sorted([*ranked, *free], key=lambda one: one.key)
    taken = [one for one in ranked if one.verdict is not Verdict.REFUSED]
    listed = inputs.setting_count("o_ring.rings_listed")
    rings = taken[:listed] if taken else ranked[: min(listed, MOST_REFUSED)]
    kept = [one for one in free if one.verdict is not Verdict.REFUSED]
    most_free = inputs.setting_count("o_ring.free_listed")
    return FoundRings(gland, bands, model, rings, kept[:most_free], given=False)


def _any_good(ranked: Sequence[Ranked]) -> bool:
    """Return whether anything is worth trying."""
    return any(one.verdict in GOOD for one in ranked)


def _ranked(
    gland: Gland, bands: RingBands, model: SectionModel, rings: Iterable[Ring]
) -> list[Ranked]:
    """Return rings judged and in order."""
    return sorted((rank(gland, bands, model, ring) for ring in rings), key=lambda one: one.key)


def _comes_near(gland: Gland, bands: RingBands, ring: Ring) -> bool:
    """Return whether a ring could earn more than a refusal, or miss it narrowly."""
    inside = ring.inside_nanometres
    section = ring.section_nanometres + ring.section_tolerance_nanometres
    most_percent = 100 + 2 * bands.stretch_refused
    least_percent = 100 - 4 * bands.slack_most
    seat_large, seat_small = 100 * gland.resting.most, 100 * gland.resting.least
    if seat_small > most_percent * inside or seat_large < least_percent * inside:
        return False
    # Twice the gap against twice the section: between no touch at all and crushed flat.
    gap = gland.twice_gap_span
    return gap.least <= 2 * section and gap.most * 4 >= section


def _free_rings(inputs: Inputs, gland: Gland, bands: RingBands) -> Iterator[Ring]:
    """Yield metric rings of no standard: of each section, the inside diameters near the ideal."""
    step = inputs.setting_length("o_ring.free_step")
    smallest = inputs.setting_length("o_ring.free_smallest")
    tolerance_class = inputs.setting_text("o_ring.free_class")
    seat = 100 * gland.resting.nominal
    first = ceil(seat / (100 + bands.stretch.high) / step)
    last = floor(seat / (100 + bands.stretch.low) / step)
    ideal = round(seat / (100 + bands.stretch_ideal) / step)
    nearest = sorted(range(first, last + 1), key=lambda steps: (abs(steps - ideal), steps))[:3]
    for section in inputs.setting_lengths("o_ring.free_sections"):
        for steps in nearest:
            if steps * step < smallest:
                continue
            if standard_like(steps * step, section) is not None:
                continue
            ring = free_ring(steps * step, section, tolerance_class)
            if _leaves_something(ring) and _comes_near(gland, bands, ring):
                yield ring


def _leaves_something(ring: Ring) -> bool:
    """Return whether the tolerances leave something of the ring."""
    return (
        ring.inside_tolerance_nanometres < ring.inside_nanometres
        and ring.section_tolerance_nanometres < ring.section_nanometres
    )


def given_ring(group: Mapping[str, Plain]) -> Ring:
    """Return the ring to be judged, or raise ImpossibleInput where nothing of it would be left."""
    found = {name: cast("int", group.get(name, 0)) for name in _MEMBERS}
    problems = []
    for name in ("inside_diameter", "cross_section"):
        tolerance = found[f"{name}_tolerance"]
        if tolerance >= found[name]:
            sentence = (
                f"A tolerance of {length_text(tolerance)} leaves nothing of a ring's "
                f"{name.replace('_', ' ')} of {length_text(found[name])}."
            )
            problems.append((f"ring/{name}_tolerance", sentence))
    if problems:
        raise ImpossibleInput(*problems)
    like = standard_like(found["inside_diameter"], found["cross_section"])
    names = () if like is None else (like.name, *like.also)
    return Ring(
        standard=Standard.GIVEN,
        size=ring_text(found["inside_diameter"], found["cross_section"]).removesuffix(" mm"),
        inside_nanometres=found["inside_diameter"],
        section_nanometres=found["cross_section"],
        inside_tolerance_nanometres=found["inside_diameter_tolerance"],
        section_tolerance_nanometres=found["cross_section_tolerance"],
        also=names,
    )


_MEMBERS: Final = (
    "inside_diameter",
    "cross_section",
    "inside_diameter_tolerance",
    "cross_section_tolerance",
)
