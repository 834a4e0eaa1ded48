"""The drawing: every grade as a band on one scale of widths, and the line across them.

The picture is a hundred times as wide as the line on the paper; printed at 100 %, 1 mm of the scale
measures 100 mm. Beside the scale the line itself is drawn at its own width.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from html import escape
from typing import Final

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE, length_text
from sparewell_nibs.widths import Grade

_INK: Final = "#222222"
_BANDS: Final = {"Western": "#c3d3dc", "Japanese": "#efd9b4"}
_SCALE: Final = 100
_LEFT: Final = 28
_MARGIN: Final = 6
_ROW: Final = 6
_END_BEYOND: Final = Fraction(3, 10)  # of a millimetre: how far an open band and the scale go on
_TICK: Final = Fraction(1, 10)
_MOST_TICKS: Final = 25


def drawing_of(
    width_nanometres: int, spread_nanometres: int, systems: Sequence[tuple[str, Sequence[Grade]]]
) -> str:
    """Return the SVG document; widths in nanometres."""
    width = _millimetres(width_nanometres)
    rows = sum(len(grades) for _, grades in systems)
    end = _end_of(width + _millimetres(spread_nanometres), systems)
    scale = _SCALE if end <= Fraction(_MOST_TICKS, 10) else 10
    paper_width = _LEFT + end * scale + _MARGIN
    top = Fraction(3 * _ROW)
    bottom = top + rows * _ROW
    paper_height = bottom + 4 * _ROW + width
    shapes: list[str] = []
    row = 0
    for system, grades in systems:
        for grade in grades:
            shapes.extend(_band(system, grade, top + row * _ROW, end, scale))
            row += 1
    words = f"A line of {length_text(width_nanometres)} among the grades, {scale} to 1"
    spoken = ". ".join(
        f"{system} {grade.code} {_range_text(grade)}"
        for system, grades in systems
        for grade in grades
    )
    return "\n".join(
        (
            '<svg xmlns="http://www.w3.org/2000/svg" role="img" font-family="sans-serif"',
            f'font-size="3" fill="{_INK}"',
            f'width="{_plain(paper_width)}mm" height="{_plain(paper_height)}mm"',
            f'viewBox="0 0 {_plain(paper_width)} {_plain(paper_height)}">',
            f"<title>{escape(words)}</title>",
            f"<desc>{escape(spoken)}.</desc>",
            (
                f'<rect class="paper" x="0" y="0" width="{_plain(paper_width)}" '
                f'height="{_plain(paper_height)}" fill="#ffffff"/>'
            ),
            _text(Fraction(_MARGIN), Fraction(_ROW), words, ' font-weight="bold"'),
            *_scale_marks(top, bottom, end, scale),
            *shapes,
            *_line(width, _millimetres(spread_nanometres), top, bottom, scale),
            _text(
                Fraction(_MARGIN),
                bottom + 2 * _ROW,
                f"The line itself when printed at 100 %: {length_text(width_nanometres)}",
            ),
            (
                f'<rect class="true-size" x="{_MARGIN}" y="{_plain(bottom + 3 * _ROW)}" width="60" '
                f'height="{_plain(width)}" fill="{_INK}"/>'
            ),
            "</svg>",
        )
    )


def _end_of(width: Fraction, systems: Sequence[tuple[str, Sequence[Grade]]]) -> Fraction:
    """Return where the scale ends, in millimetres of line."""
    bounds = [
        _millimetres(bound)
        for _, grades in systems
        for grade in grades
        for bound in (grade.low_nanometres, grade.high_nanometres)
        if bound is not None
    ]
    return max([width, *bounds]) + _END_BEYOND


def _band(system: str, grade: Grade, y: Fraction, end: Fraction, scale: int) -> list[str]:
    """Return one grade's name and its band; one whose bounds are crossed has none."""
    low = _millimetres(grade.low_nanometres)
    high = end if grade.high_nanometres is None else _millimetres(grade.high_nanometres)
    name = _text(Fraction(_MARGIN), y + 4, f"{system} {grade.code}")
    if high < low:
        return [name]
    return [
        name,
        (
            f'<rect class="band" x="{_plain(_LEFT + low * scale)}" y="{_plain(y)}" '
            f'width="{_plain((high - low) * scale)}" height="5" fill="{_BANDS[system]}" '
            f'stroke="{_INK}" stroke-width="0.2"/>'
        ),
    ]


def _scale_marks(top: Fraction, bottom: Fraction, end: Fraction, scale: int) -> list[str]:
    """Return the ticks of the scale and their numbers, a tenth of a millimetre apart or one."""
    step = _TICK if scale == _SCALE else Fraction(1)
    marks = []
    for tick in range(int(end / step) + 1):
        x = _plain(_LEFT + tick * step * scale)
        marks.append(
            f'<line class="tick" x1="{x}" y1="{_plain(top - 1)}" x2="{x}" y2="{_plain(bottom)}" '
            f'stroke="#b5b5b5" stroke-width="0.1"/>'
        )
        label = f"{_plain(tick * step)}"
        marks.append(_text(_LEFT + tick * step * scale - 2, top - 2, label))
    return marks


def _line(
    width: Fraction, spread: Fraction, top: Fraction, bottom: Fraction, scale: int
) -> list[str]:
    """Return the width as a line across the bands, with its spread as a pale stripe."""
    x = _plain(_LEFT + width * scale)
    shapes = []
    if spread:
        shapes.append(
            f'<rect class="spread" x="{_plain(_LEFT + (width - spread) * scale)}" '
            f'y="{_plain(top)}" width="{_plain(2 * spread * scale)}" '
            f'height="{_plain(bottom - top)}" fill="#8a3324" fill-opacity=".2"/>'
        )
    shapes.append(
        f'<line class="width" x1="{x}" y1="{_plain(top - 1)}" x2="{x}" y2="{_plain(bottom + 1)}" '
        f'stroke="#8a3324" stroke-width="0.5"/>'
    )
    return shapes


def _range_text(grade: Grade) -> str:
    """Return a grade's bounds in words."""
    low = length_text(grade.low_nanometres)
    if grade.high_nanometres is None:
        return f"from {low} up"
    return f"{low} to {length_text(grade.high_nanometres)}"


def _millimetres(nanometres: int) -> Fraction:
    """Return exact millimetres."""
    return Fraction(nanometres, NANOMETRES_PER_MILLIMETRE)


def _text(left: Fraction, top: Fraction, words: str, attributes: str = "") -> str:
    """Return one line of text, escaped."""
    return f'<text x="{_plain(left)}" y="{_plain(top)}"{attributes}>{escape(words)}</text>'


def _plain(value: Fraction) -> str:
    """Return the number in full, to seven decimals, without trailing zeros."""
    text = f"{Decimal(round(value * 10**7)).scaleb(-7):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
