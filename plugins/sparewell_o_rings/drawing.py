"""The drawing: the gland cut open along its axis, with the squeezed ring in it, true to scale.

The units of the picture are millimetres of the pen, so every length is the number itself. The page
enlarges them by a whole factor, which is written on the drawing beside a bar; printed at 100 %, a
ruler on the paper reads that factor times the pen.

What has the groove lies below, what closes it above: so a rod is drawn on top. The ring is drawn as
the shape that keeps its stretched section's area between them: two half circles and what is
between. Dashed beside it: the section of the free ring.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor
from typing import Final

from sparewell.plugin import (
    LINE_HEIGHT,
    MARGIN,
    PAPER_WIDTH,
    TEXT_HEIGHT,
    Drawing,
    Inputs,
    Look,
    in_millimetres,
    largest_scale,
    length_text,
    number_text,
)
from sparewell_o_rings.assess import PI
from sparewell_o_rings.glands import WORDS, Gland, GlandKind, gland_of
from sparewell_o_rings.ranking import Ranked, found_for
from sparewell_o_rings.wording import ring_text

_PICTURE_WIDTH: Final = 90  # millimetres on the paper, at most, for the groove and the free ring
_WALL: Final = 8  # millimetres on the paper, of the parts that hold the ring
_SCALES: Final = tuple(Fraction(scale) for scale in (40, 30, 25, 20, 15, 10, 8, 5, 4, 3, 2, 1))
_PI: Final = Fraction(PI)

_CLOSING_WORDS: Final = {
    GlandKind.PISTON: "wall of the bore",
    GlandKind.ROD: "rod",
    GlandKind.FACE: "facing part",
}
_GROOVED_WORDS: Final = {
    GlandKind.PISTON: "piston",
    GlandKind.ROD: "body with the cavity",
    GlandKind.FACE: "part with the groove",
}

_CLOSING: Final = Look("closing", "#c3d3dc", "#1d4355")
_GROOVED: Final = Look("grooved", "#efe9dd", "#5b5348")
_GAP: Final = Look("gap", "#ffffff", "#5b5348")
_RING: Final = Look("ring", "#4b4b4b", "#111111", opacity=".8")
_FREE: Final = Look("free", stroke="#8a3324", dashed=True)


@dataclass(frozen=True)
class _Layout:
    """Where things stand on the page, in millimetres of the pen."""

    picture: Drawing
    width: Fraction
    gap: Fraction
    free: Fraction

    @property
    def left(self) -> Fraction:
        """Where the parts begin."""
        return self.picture.on_paper(MARGIN)

    @property
    def wall(self) -> Fraction:
        """How thick the parts are drawn."""
        return self.picture.on_paper(_WALL)

    @property
    def groove_left(self) -> Fraction:
        """Where the groove begins."""
        return self.left + self.wall

    @property
    def parts_width(self) -> Fraction:
        """How wide the parts are drawn."""
        return self.width + 2 * self.wall

    @property
    def beside(self) -> Fraction:
        """Where the room beside the parts begins."""
        return self.left + self.parts_width + self.picture.on_paper(MARGIN)

    @property
    def gap_top(self) -> Fraction:
        """The height of the face above the ring."""
        return self.picture.on_paper(MARGIN + 2 * LINE_HEIGHT) + self.wall

    @property
    def bottom(self) -> Fraction:
        """Where the picture ends and the captions begin."""
        return self.gap_top + max(self.gap, self.free) + self.wall

    def below(self, line: int) -> Fraction:
        """Return the base line of a caption."""
        return self.bottom + self.picture.on_paper(LINE_HEIGHT * (line + 1))


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    gland = gland_of(inputs)
    found = found_for(inputs)
    best = found.rings[0] if found.rings else None
    layout = _layout_of(gland, best)
    picture = layout.picture
    captions = _captions(gland, best)
    title = f"{_heading(best)}, drawn {picture.scale} to 1"
    picture.text(layout.left, picture.on_paper(MARGIN + TEXT_HEIGHT), title, bold=True)
    _draw_parts(layout, gland)
    if best is not None:
        _draw_ring(layout, best)
    for line, words in enumerate(captions):
        picture.text(layout.left, layout.below(line), words)
    lines = len(captions)
    picture.scale_bar(layout.left, layout.below(lines) - picture.on_paper(2), Fraction(1))
    return picture.document(
        title,
        ". ".join(captions),
        picture.on_paper(PAPER_WIDTH),
        layout.below(lines + 1) + picture.on_paper(MARGIN),
    )


def _layout_of(gland: Gland, best: Ranked | None) -> _Layout:
    """Return the layout at the largest whole scale at which groove and free ring fit the paper."""
    gap = in_millimetres(Fraction(gland.twice_gap_span.nominal, 2))
    free = Fraction(0) if best is None else in_millimetres(best.ring.section_nanometres)
    # Where the width is not known: half as much again as the section is usual.
    usual = max(free, gap) * 3 / 2
    width = usual if gland.width is None else in_millimetres(gland.width.nominal)
    room = Fraction(_PICTURE_WIDTH - 2 * _WALL)
    return _Layout(Drawing(largest_scale(max(width + free, gap), room, _SCALES)), width, gap, free)


def _draw_parts(layout: _Layout, gland: Gland) -> None:
    """Draw what holds the ring, with its names: what closes above, the groove below, the gap."""
    picture, left, top = layout.picture, layout.left, layout.gap_top
    depth = layout.bottom - top
    picture.rectangle(_CLOSING, left, top - layout.wall, layout.parts_width, layout.wall)
    picture.rectangle(_GROOVED, left, top, layout.parts_width, depth)
    picture.rectangle(_GAP, layout.groove_left, top, layout.width, layout.gap)
    picture.text(layout.beside, top - layout.wall / 2, _CLOSING_WORDS[gland.kind])
    words = f"{_GROOVED_WORDS[gland.kind]}; dashed: the free ring"
    picture.text(layout.beside, layout.bottom, words)


def _draw_ring(layout: _Layout, best: Ranked) -> None:
    """Draw the squeezed ring in the groove, and the free ring beside it."""
    section = best.assessment.stretched_section_nanometres
    if section is None:
        section = Decimal(best.ring.section_nanometres)  # how thin it gets, nothing says
    left = in_millimetres(Fraction(section))
    high = min(left, layout.gap)
    # The same area between two parallel faces: a rectangle with half circles at its ends.
    wide = high + _PI / 4 * (left * left - high * high) / high
    centre = layout.groove_left + layout.width / 2
    layout.picture.rectangle(
        _RING,
        centre - wide / 2,
        layout.gap_top + layout.gap - high,
        wide,
        high,
        rounded=high / 2,
    )
    radius = layout.free / 2
    layout.picture.circle(_FREE, layout.beside + radius, layout.gap_top + radius, radius)


def _heading(best: Ranked | None) -> str:
    """Return what is drawn."""
    if best is None:
        return "A gland that no ring comes near"
    ring = best.ring
    inside, section = ring.inside_nanometres, ring.section_nanometres
    if ring_text(inside, section).startswith(ring.size):
        return f"O-ring {ring_text(inside, section)} in its gland"
    return f"O-ring {ring.name}, {ring_text(inside, section)}, in its gland"


def _captions(gland: Gland, best: Ranked | None) -> list[str]:
    """Return what the drawing shows, in numbers."""
    resting, facing = WORDS[gland.resting_name], WORDS[gland.facing_name]
    captions = [
        f"{resting.capitalize()} {gland.resting.text}, {facing} {gland.facing.text}",
        f"Gap {gland.gap.text}",
        "Groove width not given: drawn one and a half times as wide as it is high"
        if gland.width is None
        else f"Groove width {gland.width.text}",
    ]
    if best is None:
        return captions
    assessment = best.assessment
    figures = [
        ("Stretch", assessment.stretch),
        ("Squeeze", assessment.squeeze),
        ("Fill", assessment.fill),
    ]
    for name, figure in figures:
        if figure is None:
            continue
        words = f"{name} {number_text(figure.nominal, 1)} %"
        if figure.least != figure.most:
            words += (
                f", by tolerance {number_text(figure.least, 1)} to {number_text(figure.most, 1)} %"
            )
        captions.append(words)
    verdict = f"verdict: {best.verdict.value.replace('_', ' ')}"
    section = assessment.stretched_section_nanometres
    if section is None:
        captions.append(f"How thin so far a stretch makes it is not known; {verdict}")
    else:
        micrometres = length_text(floor(section / 1000) * 1000)
        captions.append(f"Section when stretched {micrometres}; {verdict}")
    return captions
