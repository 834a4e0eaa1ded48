"""The drawing: the washer to scale, and with a sheet its better layout.

The units of the picture are millimetres, so every circle's radius is the number itself. The page
enlarges or reduces them by a factor that is written on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from html import escape
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, Inputs, millimetres_text, number_text
from sparewell_gaskets.cutting import Cutting, cutting_of
from sparewell_gaskets.sizing import Washer, washer_of

MOST_DRAWN: Final = 1_500

_PAPER: Final = Fraction(180)  # millimetres; fits the usual sheets with their margins
_SCALES: Final = (
    *(Fraction(scale) for scale in (10, 8, 6, 5, 4, 3, 2, 1)),
    *(Fraction(1, scale) for scale in (2, 5, 10)),
)
_TEXT: Final = Fraction(3)  # millimetres on the paper
_LINE: Final = Fraction(5)
_MARGIN: Final = Fraction(6)
_INK: Final = "#222222"
_RUBBER: Final = 'fill="#9aa7ad" stroke="#2c3a40"'
_HOLE: Final = 'fill="#ffffff" stroke="#2c3a40"'
_SHEET: Final = 'fill="#efe9dd" stroke="#5b5348"'


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    washer = washer_of(inputs)
    cutting = cutting_of(inputs, washer)
    wide, high = _size_of(washer, cutting)
    scale = next((each for each in _SCALES if wide * each <= _PAPER - 2 * _MARGIN), _SCALES[-1])
    captions = _captions(washer, cutting, scale)
    on_paper = 1 / scale
    width = max(wide + 2 * _MARGIN * on_paper, (_PAPER - 2 * _MARGIN) * on_paper)
    height = high + (2 * _MARGIN + _LINE * len(captions)) * on_paper
    line = f'stroke-width="{_plain(on_paper / 4)}"'
    left = top = _MARGIN * on_paper
    shapes = _washer(washer, left, top) if cutting is None else _sheet(cutting, washer, left, top)
    texts = (
        f'<text x="{_plain(left)}" y="{_plain(top + high + _LINE * on_paper * (number + 1))}">'
        f"{escape(words)}</text>"
        for number, words in enumerate(captions)
    )
    return "\n".join(
        (
            '<svg xmlns="http://www.w3.org/2000/svg" role="img" font-family="sans-serif"',
            f'font-size="{_plain(_TEXT * on_paper)}" fill="{_INK}"',
            f'width="{_plain(width * scale)}mm" height="{_plain(height * scale)}mm"',
            f'viewBox="0 0 {_plain(width)} {_plain(height)}">',
            f"<title>{escape(captions[0])}</title>",
            f"<desc>{escape('. '.join(captions))}.</desc>",
            f'<rect fill="#ffffff" x="0" y="0" width="{_plain(width)}" height="{_plain(height)}"/>',
            f"<g {line}>",
            *shapes,
            "</g>",
            *texts,
            "</svg>",
        )
    )


def _size_of(washer: Washer, cutting: Cutting | None) -> tuple[Fraction, Fraction]:
    """Return the width and height of what is drawn, in millimetres."""
    if cutting is None:
        return _mm(washer.outside_nanometres), _mm(washer.outside_nanometres)
    return _mm(cutting.sheet.length_nanometres), _mm(cutting.sheet.width_nanometres)


def _washer(washer: Washer, left: Fraction, top: Fraction) -> Iterator[str]:
    """Yield one washer."""
    radius = _mm(washer.outside_nanometres) / 2
    yield from _ring(washer, left + radius, top + radius)


def _sheet(cutting: Cutting, washer: Washer, left: Fraction, top: Fraction) -> Iterator[str]:
    """Yield the sheet and the washers of the better layout, as many as may be drawn."""
    sheet, best = cutting.sheet, cutting.best
    yield (
        f'<rect class="sheet" {_SHEET} x="{_plain(left)}" y="{_plain(top)}" '
        f'width="{_plain(_mm(sheet.length_nanometres))}" '
        f'height="{_plain(_mm(sheet.width_nanometres))}"/>'
    )
    edge = _mm(sheet.edge_nanometres)
    for number, (along, across) in enumerate(best.centres()):
        if number == MOST_DRAWN:
            return
        x, y = (along, across) if best.along_length else (across, along)
        yield from _ring(washer, left + edge + _mm(x), top + edge + _mm(y))


def _ring(washer: Washer, x: Fraction, y: Fraction) -> Iterator[str]:
    """Yield a washer with its centre."""
    centre = f'cx="{_plain(x)}" cy="{_plain(y)}"'
    outside = _plain(_mm(washer.outside_nanometres) / 2)
    yield f'<circle class="washer" {_RUBBER} {centre} r="{outside}"/>'
    if washer.inside_nanometres is not None:
        inside = _plain(_mm(washer.inside_nanometres) / 2)
        yield f'<circle class="hole" {_HOLE} {centre} r="{inside}"/>'


def _captions(washer: Washer, cutting: Cutting | None, scale: Fraction) -> list[str]:
    """Return what is drawn, in numbers; the first line is the title."""
    hole = "no hole"
    if washer.inside_nanometres is not None:
        hole = f"hole {millimetres_text(washer.inside_nanometres)}"
    thick = ""
    if washer.thickness_nanometres is not None:
        thick = f", {millimetres_text(washer.thickness_nanometres)} thick"
    captions = [f"Washer {millimetres_text(washer.outside_nanometres)} outside, {hole}{thick}"]
    if cutting is not None:
        best = cutting.best
        captions.append(
            f"{best.count} {best.name} on {millimetres_text(cutting.sheet.length_nanometres)} by "
            f"{millimetres_text(cutting.sheet.width_nanometres)} "
            f"(square {cutting.square.count}, staggered {cutting.staggered.count})"
        )
        captions.append(f"Waste {number_text(cutting.waste_percent, 1)} %")
        if best.count > MOST_DRAWN:
            captions.append(f"Only the first {MOST_DRAWN} are drawn")
    factor = f"{scale.numerator}:{scale.denominator}"
    captions.append(f"Scale {factor} when printed at 100 %")
    return captions


def _mm(nanometres: int | Fraction) -> Fraction:
    """Return millimetres."""
    return Fraction(nanometres) / NANOMETRES_PER_MILLIMETRE


def _plain(millimetres: Fraction) -> str:
    """Return the number to a tenth of a nanometre, without trailing zeros."""
    return number_text(millimetres, 7)
