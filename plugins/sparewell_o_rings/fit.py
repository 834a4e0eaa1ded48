"""Which rings in hand would do: the box to search in, and the verdict on each piece found.

A piece is judged by its own dimensions, whatever its packet says. What was measured may be off by
the spread that was noted with it, else by the setting for measured rings; what is only nominal, by
the tolerance of the standard size it is like, else by ISO 3601-1 class B.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import ceil, floor
from typing import Final

from sparewell.plugin import (
    Envelope,
    Inputs,
    Judgement,
    Piece,
    Price,
    Purchase,
    Range,
    Verdict,
    length_text,
    rounded,
)
from sparewell_o_rings.glands import Gland, gland_of
from sparewell_o_rings.kind import KIND, MATERIALS
from sparewell_o_rings.materials import (
    MATERIAL_WORDS,
    suitabilities_of,
    suitability_of,
)
from sparewell_o_rings.ranking import FoundRings, Ranked, found_for, model_of, rank
from sparewell_o_rings.sizes import Ring, free_ring, standard_like
from sparewell_o_rings.verdicts import GOOD, bands_of
from sparewell_o_rings.wanted import WantedRing, wanted_for
from sparewell_o_rings.wording import millimetres_text, ring_text

_MEASURE: Final = "measure its section, then its inside diameter"
# The first is the coarser: a whole point of squeeze outside the band counts for this much.
_POINT: Final = 100
_MOST_STEPS: Final = 99


class UnknowableRingError(Exception):
    """Raised for a piece that cannot be judged; its text is the reason."""


def envelope(inputs: Inputs) -> Envelope:
    """Return the box to search in, and what to buy where nothing is in hand."""
    gland = gland_of(inputs)
    found = found_for(inputs)
    bands = found.bands
    wanted = wanted_for(gland, bands, found.model)
    spread = inputs.setting_length("o_ring.measured_spread")
    tight = 100 + bands.stretch_refused
    slack = 100 - bands.slack_most
    inside = Range(
        low=max(floor(100 * gland.resting.least / tight) - spread, 1),
        high=ceil(100 * gland.resting.most / slack) + spread,
    )
    # Thinner never touches; thicker is squeezed beyond the limit even when thinned by a quarter.
    crushed = 100 - bands.squeeze_refused
    gap = gland.twice_gap_span
    section = Range(
        low=max(gap.least // 2 - spread, 1),
        high=ceil(Decimal(gap.most) / 2 * 100 / crushed * 4 / 3) + spread,
    )
    return Envelope(
        kind=KIND,
        ideal=wanted.inside,
        ranges={"inside_diameter": inside, "cross_section": section},
        to_buy=_purchases(inputs, found, wanted),
    )


def judge(inputs: Inputs, piece: Piece) -> Judgement:
    """Return the verdict on one piece; the first sentences of `why` are the reasons against."""
    if piece.kind != KIND:
        return Judgement(Verdict.REFUSED, f"a {piece.kind} is not an O-ring")
    gland = gland_of(inputs)
    try:
        ring = _known_ring(inputs, piece)
    except UnknowableRingError as unknowable:
        return Judgement(Verdict.REFUSED, str(unknowable))
    ranked = rank(gland, bands_of(inputs), model_of(inputs), ring)
    margins = _margins(ranked)
    against, doubts = _of_material(inputs, gland, piece)
    is_refused = ranked.verdict is Verdict.REFUSED
    if against:
        why = (lambda: f"{against}; {ranked.why}") if is_refused else against
        return Judgement(Verdict.REFUSED, why, margins)
    return Judgement(
        Verdict.TRY_IN if doubts and ranked.verdict is Verdict.FITS else ranked.verdict,
        lambda: "; ".join((ranked.why, *doubts, *_remarks(inputs, piece))),
        margins,
        _preference(ranked),
    )


def price(inputs: Inputs, piece: Piece) -> Price:
    """Return how far one ring is stretched over its seat."""
    stretch = judge(inputs, piece).margins.get("stretch_percent")
    return Price(stretch_percent=stretch if isinstance(stretch, Decimal) else None)


def _preference(ranked: Ranked) -> int:
    """Return how far a piece is from the best of its verdict, in whole points."""
    outside = _MOST_STEPS if ranked.outside_band is None else floor(ranked.outside_band)
    return _POINT * outside + min(floor(ranked.from_ideal), _MOST_STEPS)


def _margins(ranked: Ranked) -> dict[str, int | Decimal]:
    """Return the figures of the piece, to a tenth of a per cent."""
    assessment = ranked.assessment
    margins: dict[str, int | Decimal] = {"stretch_percent": rounded(assessment.stretch.nominal, 1)}
    squeeze = assessment.squeeze
    if squeeze is not None:
        margins["squeeze_percent"] = rounded(squeeze.nominal, 1)
        margins["squeeze_percent_min"] = rounded(squeeze.least, 1)
        margins["squeeze_percent_max"] = rounded(squeeze.most, 1)
    if assessment.fill is not None:
        margins["fill_percent"] = rounded(assessment.fill.nominal, 1)
    return margins


def _known_ring(inputs: Inputs, piece: Piece) -> Ring:
    """Return the piece as a ring, or raise UnknowableRingError naming what is missing."""
    inside = piece.dimensions.get("inside_diameter")
    section = piece.dimensions.get("cross_section")
    outside = piece.dimensions.get("outside_diameter")
    usual = inputs.setting_length("o_ring.measured_spread")
    section_spread = piece.spreads.get("cross_section", usual)
    inside_spread = piece.spreads.get("inside_diameter", usual)
    outside_spread = piece.spreads.get("outside_diameter", usual)
    inside_from: tuple[str, ...] = ("inside_diameter",)
    section_from: tuple[str, ...] = ("cross_section",)
    if inside is None and outside is not None and section is not None:
        inside, inside_from = outside - 2 * section, ("outside_diameter", "cross_section")
        inside_spread = outside_spread + 2 * section_spread
    elif section is None and outside is not None and inside is not None:
        section, section_from = (outside - inside) // 2, ("outside_diameter", "inside_diameter")
        section_spread = ceil((outside_spread + inside_spread) / 2)
    if inside is None or section is None:
        raise UnknowableRingError(f"its dimensions are not known: {_MEASURE}")
    if inside <= 0 or section <= 0:
        raise UnknowableRingError(
            f"{length_text(outside or 0)} outside contradicts its other dimensions: {_MEASURE}"
        )
    like = standard_like(inside, section) or free_ring(inside, section, "B")
    inside_off, section_off = like.inside_tolerance_nanometres, like.section_tolerance_nanometres
    if _all_measured(piece, inside_from):
        inside_off = inside_spread
    if _all_measured(piece, section_from):
        section_off = section_spread
    if inside_off >= inside or section_off >= section:
        raise UnknowableRingError(f"{ring_text(inside, section)} is too small to be sure of")
    return replace(
        like,
        inside_nanometres=inside,
        section_nanometres=section,
        inside_tolerance_nanometres=inside_off,
        section_tolerance_nanometres=section_off,
    )


def _all_measured(piece: Piece, names: tuple[str, ...]) -> bool:
    """Return whether everything that a dimension was taken from was measured on the lot."""
    return all(piece.basis.get(name) == "measured" for name in names)


def _of_material(inputs: Inputs, gland: Gland, piece: Piece) -> tuple[str, tuple[str, ...]]:
    """Return the reason against a piece's material, if any, and what makes it doubtful."""
    refuses = inputs.setting_flag("o_ring.refuse_unsuitable_material")
    material = (piece.material or "").strip().lower()
    if material not in MATERIALS:
        unsuitable = [each for each in suitabilities_of(inputs, gland.duty) if each.is_unsuitable]
        if not unsuitable:
            return "", ()
        told = "; ".join(each.why for each in unsuitable)
        return "", (f"its material is not known here, and {told}",)
    found = suitability_of(material, gland.duty, inputs.text("grease"), inputs.text("flush"))
    if not found.is_unsuitable:
        return "", ()
    if refuses:
        return f"{found.why}; a person may override this with a reason", ()
    return "", (found.why,)


def _remarks(inputs: Inputs, piece: Piece) -> tuple[str, ...]:
    """Return what is worth knowing and changes no verdict."""
    asked_for = inputs.text("material")
    if asked_for is None or asked_for == piece.material:
        return ()
    actual = piece.material or "of unknown material"
    return (f"{MATERIAL_WORDS[asked_for]} was asked for, and this is {actual}",)


def _purchases(inputs: Inputs, found: FoundRings, wanted: WantedRing) -> tuple[Purchase, ...]:
    """Return what to ask a seller for: the best of the tables, and the best free metric ring."""
    material = inputs.text("material")
    if material is None:
        material = suitabilities_of(inputs, found.gland.duty)[0].material
    best = [one for one in found.rings[:1] if not found.given]
    best.extend(one for one in found.free[:1] if one not in best)
    check = (
        "measure the section first, lightly, at three places: "
        f"{millimetres_text(wanted.section_least)} to {millimetres_text(wanted.section_most)} at "
        f"the ideal stretch, with about {millimetres_text(wanted.inside)} inside; keep the "
        "material with the bag"
    )
    return tuple(
        Purchase(
            ask_for=(
                f"O-rings {one.ring.name}"
                + (f" (the same as {', '.join(one.ring.also)})" if one.ring.also else "")
                + f", {ring_text(one.ring.inside_nanometres, one.ring.section_nanometres)}, in "
                f"{MATERIAL_WORDS[material]}: several, since they differ by tolerance"
            ),
            check_on_arrival=check,
        )
        for one in best
        if one.verdict in GOOD
    )
