"""The drawing: the gland cut open along its axis, with the squeezed ring in it, true to scale.

The units of the picture are millimetres of the pen, so every length is the number itself. The page
enlarges them by a whole factor, which is written on the drawing beside a bar; printed at 100 %, a
ruler on the paper reads that factor times the pen.

What has the groove lies below, what closes it above: so a rod is drawn on top. The ring is drawn as
the shape that keeps its stretched section's area between them: two half circles and what is
between. Dashed beside it: the section of the free ring.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from html import escape
from math import floor
from types import MappingProxyType
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Inputs, length_text
from sparewell_o_rings.assess import PI
from sparewell_o_rings.glands import WORDS, Gland, GlandKind, gland_of
from sparewell_o_rings.ranking import Ranked, found_for
from sparewell_o_rings.wording import number_text, ring_text

_PAPER_WIDTH: Final = 180  # millimetres; fits the usual sheets with their margins
_PICTURE_WIDTH: Final = 90  # of it, at most, for the groove and the free ring
_SCALES: Final = (40, 30, 25, 20, 15, 10, 8, 5, 4, 3, 2, 1)
_TEXT_HEIGHT: Final = Fraction(3)
_LINE_HEIGHT: Final = Fraction(5)
_MARGIN: Final = Fraction(6)
_WALL: Final = Fraction(8)  # millimetres on the paper, of the parts that hold the ring
_PI: Final = Fraction(PI)
_INK: Final = "#222222"

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

# Each shape carries its own looks: a style sheet would leak into the page the drawing stands in.
_LOOKS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "paper": 'fill="#ffffff"',
        "closing": 'fill="#c3d3dc" stroke="#1d4355"',
        "grooved": 'fill="#efe9dd" stroke="#5b5348"',
        "gap": 'fill="#ffffff" stroke="#5b5348"',
        "ring": 'fill="#4b4b4b" fill-opacity=".8" stroke="#111111"',
        "free": 'fill="none" stroke="#8a3324"',
        "scale": f'fill="{_INK}"',
    }
)


@dataclass(frozen=True)
class _Page:
    """The layout in millimetres of the pen; `scale` times as large on the paper."""

    scale: int
    width: Fraction
    gap: Fraction
    free: Fraction

    def on_paper(self, millimetres: Fraction | int) -> Fraction:
        """Return what measures so many millimetres on the paper."""
        return Fraction(millimetres) / self.scale

    @property
    def left(self) -> Fraction:
        """Return where the parts begin."""
        return self.on_paper(_MARGIN)

    @property
    def groove_left(self) -> Fraction:
        """Return where the groove begins."""
        return self.left + self.on_paper(_WALL)

    @property
    def parts_width(self) -> Fraction:
        """Return how wide the parts are drawn."""
        return self.width + 2 * self.on_paper(_WALL)

    @property
    def gap_top(self) -> Fraction:
        """Return the height of the face above the ring."""
        return self.on_paper(_MARGIN + 2 * _LINE_HEIGHT + _WALL)

    @property
    def bottom(self) -> Fraction:
        """Return where the picture ends and the captions begin."""
        return self.gap_top + max(self.gap, self.free) + self.on_paper(_WALL)

    def below(self, line: int) -> Fraction:
        """Return the base line of a caption."""
        return self.bottom + self.on_paper(_LINE_HEIGHT * (line + 1))


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    gland = gland_of(inputs)
    found = found_for(inputs, gland)
    best = found.rings[0] if found.rings else None
    page = _page_of(gland, best)
    captions = _captions(gland, best)
    height = page.below(len(captions) + 1) + page.on_paper(_MARGIN)
    width = page.on_paper(_PAPER_WIDTH)
    title = f"{_heading(best)}, drawn {page.scale} to 1"
    return "\n".join(
        (
            '<svg xmlns="http://www.w3.org/2000/svg" role="img" font-family="sans-serif"',
            f'font-size="{_plain(page.on_paper(_TEXT_HEIGHT))}" fill="{_INK}"',
            f'stroke-width="{_plain(page.on_paper(Fraction(1, 4)))}"',
            f'width="{_PAPER_WIDTH}mm" height="{_plain(height * page.scale)}mm"',
            f'viewBox="0 0 {_plain(width)} {_plain(height)}">',
            f"<title>{escape(title)}</title>",
            f"<desc>{escape('. '.join(captions))}.</desc>",
            _rectangle("paper", Fraction(0), Fraction(0), width, height),
            _text(page.left, page.on_paper(_MARGIN + _TEXT_HEIGHT), title, ' font-weight="bold"'),
            *_parts(page),
            *(() if best is None else _ring(page, best)),
            *_labels(page, gland),
            *(_text(page.left, page.below(line), words) for line, words in enumerate(captions)),
            *_scale_bar(page, len(captions)),
            "</svg>",
        )
    )


def _page_of(gland: Gland, best: Ranked | None) -> _Page:
    """Return the largest whole scale at which groove and free ring fit the paper."""
    gap = _millimetres(Fraction(gland.twice_gap_span.nominal, 2))
    free = Fraction(0) if best is None else _millimetres(best.ring.section_nanometres)
    # Where the width is not known: half as much again as the section is usual.
    usual = max(free, gap) * 3 / 2
    width = usual if gland.width is None else _millimetres(gland.width.nominal)
    usable = _PICTURE_WIDTH - 2 * _WALL
    fitting = [
        scale
        for scale in _SCALES
        if (width + free) * scale <= usable and max(gap, free) * scale <= usable
    ]
    return _Page(scale=fitting[0] if fitting else _SCALES[-1], width=width, gap=gap, free=free)


def _parts(page: _Page) -> list[str]:
    """Return what holds the ring: what closes above, the groove below, the gap between."""
    wall = page.on_paper(_WALL)
    depth = page.bottom - page.gap_top
    # The groove's rim stands a hair below the face above it: pens have next to no clearance.
    return [
        _rectangle("closing", page.left, page.gap_top - wall, page.parts_width, wall),
        _rectangle("grooved", page.left, page.gap_top, page.parts_width, depth),
        _rectangle("gap", page.groove_left, page.gap_top, page.width, page.gap),
    ]


def _ring(page: _Page, best: Ranked) -> list[str]:
    """Return the squeezed ring in the groove, and the free ring beside it."""
    section = best.assessment.stretched_section_nanometres
    if section is None:
        section = Decimal(best.ring.section_nanometres)  # how thin it gets, nothing says
    left = _millimetres(Fraction(section))
    high = min(left, page.gap)
    # The same area between two parallel faces: a rectangle with half circles at its ends.
    wide = high + _PI / 4 * (left * left - high * high) / high
    centre = page.groove_left + page.width / 2
    radius = page.free / 2
    free_x = page.left + page.parts_width + page.on_paper(_MARGIN) + radius
    dash = _plain(page.on_paper(Fraction(3, 2)))
    return [
        (
            f'<rect class="ring" {_LOOKS["ring"]} x="{_plain(centre - wide / 2)}" '
            f'y="{_plain(page.gap_top + page.gap - high)}" width="{_plain(wide)}" '
            f'height="{_plain(high)}" rx="{_plain(high / 2)}"/>'
        ),
        (
            f'<circle class="free" {_LOOKS["free"]} stroke-dasharray="{dash}" '
            f'cx="{_plain(free_x)}" cy="{_plain(page.gap_top + radius)}" r="{_plain(radius)}"/>'
        ),
    ]


def _labels(page: _Page, gland: Gland) -> list[str]:
    """Return the names of the parts, beside the picture."""
    wall = page.on_paper(_WALL)
    beside = page.left + page.parts_width + page.on_paper(_MARGIN)
    return [
        _text(beside, page.gap_top - wall / 2, _CLOSING_WORDS[gland.kind]),
        _text(beside, page.bottom, f"{_GROOVED_WORDS[gland.kind]}; dashed: the free ring"),
    ]


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


def _scale_bar(page: _Page, lines: int) -> list[str]:
    """Return a bar of 1 mm of the pen, and the scale in words."""
    left, top = page.left, page.below(lines) - page.on_paper(Fraction(2))
    words = f"1 mm of the pen. Scale {page.scale}:1 when printed at 100 %"
    return [
        _rectangle("scale", left, top, Fraction(1), page.on_paper(Fraction(1))),
        _text(left, top + page.on_paper(_LINE_HEIGHT), words),
    ]


def _rectangle(name: str, left: Fraction, top: Fraction, width: Fraction, height: Fraction) -> str:
    """Return a rectangle in the looks of its name."""
    return (
        f'<rect class="{name}" {_LOOKS[name]} x="{_plain(left)}" y="{_plain(top)}" '
        f'width="{_plain(width)}" height="{_plain(height)}"/>'
    )


def _text(left: Fraction, base: Fraction, words: str, attributes: str = "") -> str:
    """Return one line of text, escaped."""
    return f'<text x="{_plain(left)}" y="{_plain(base)}"{attributes}>{escape(words)}</text>'


def _millimetres(nanometres: Fraction | int) -> Fraction:
    """Return nanometres as millimetres."""
    return Fraction(nanometres) / NANOMETRES_PER_MILLIMETRE


def _plain(millimetres: Fraction) -> str:
    """Return the number to a tenth of a nanometre, without trailing zeros."""
    scaled = Decimal(round(millimetres * 10**7)).scaleb(-7)
    return number_text(scaled, 7)
