"""The drawing: two views along the axis, true to scale, with their numbers.

The units of the picture are millimetres of the pen, so every circle's radius is the number itself
to the nanometre. The page enlarges them by a whole factor, which is written on the drawing beside
a bar of 5 mm; printed at 100 %, a ruler on the paper reads that factor times the pen.

Left: the bore, what stands in it, and the sac. Right: the bore, the nipple, and the sac over it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from html import escape
from math import isqrt
from types import MappingProxyType
from typing import Final

from sparewell.plugin import (
    NANOMETRES_PER_MILLIMETRE,
    Inputs,
    length_text,
    millimetres_text,
    number_text,
)
from sparewell_sacs.limits import Outcome, diameter_nanometres
from sparewell_sacs.sizing import Sizing, sizing_of
from sparewell_sacs.wording import size_text

_PAPER_WIDTH: Final = 180  # millimetres; fits the usual sheets with their margins
_SCALES: Final = (10, 8, 6, 5, 4, 3, 2, 1)
_TEXT_HEIGHT: Final = Fraction(3)  # millimetres on the paper
_LINE_HEIGHT: Final = Fraction(5)
_KEY_WIDTH: Final = Fraction(5)
_MARGIN: Final = Fraction(6)
_COLUMN_AT_LEAST: Final = Fraction(84)  # millimetres on the paper: the longest caption fits
_SCALE_BAR: Final = Fraction(5)

# Each shape carries its own looks: a style sheet would leak into the page the drawing stands in.
_INK: Final = "#222222"
_HAIR: Final = Fraction(1, 8)
_THIN: Final = Fraction(1, 4)
_LINE: Final = Fraction(1, 2)
_DASH: Final = Fraction(3, 2)


@dataclass(frozen=True)
class _Look:
    """How a shape is painted; `line` is millimetres on the paper."""

    fill: str
    stroke: str = "none"
    line: Fraction = _THIN
    opacity: str = "1"
    dashed: bool = False


_LOOKS: Final = MappingProxyType(
    {
        "paper": _Look("#ffffff"),
        "wall": _Look("#efe9dd", "#5b5348"),
        "bore": _Look("#ffffff", "#3b352d"),
        "bar": _Look("#8d97a0", "#39424a"),
        "ring": _Look("#8d97a0", "#39424a"),
        "tail": _Look("none", "#39424a", dashed=True),
        "sac": _Look("#c9705f", "#8a3324", line=_LINE, opacity=".35"),
        "hole": _Look("#ffffff", "#8a3324", opacity=".6"),
        "over-nipple": _Look("#c9705f", "#8a3324", line=_LINE, opacity=".35"),
        "nipple": _Look("#c3d3dc", "#1d4355", line=_LINE),
        "axis": _Look("none", "#6b6b6b", line=_HAIR),
        "scale": _Look(_INK),
    }
)


@dataclass(frozen=True)
class _Caption:
    """One line under a view; `key` is the class of the shape it speaks of."""

    words: str
    key: str = ""


@dataclass(frozen=True)
class _Page:
    """The layout in millimetres of the pen; `scale` times as large on the paper."""

    scale: int
    column: Fraction
    outer_radius: Fraction

    def on_paper(self, millimetres: Fraction) -> Fraction:
        """Return what measures so many millimetres on the paper."""
        return millimetres / self.scale

    def painted(self, name: str) -> str:
        """Return the attributes of a shape of this name."""
        look = _LOOKS[name]
        attributes = [f'class="{name}" fill="{look.fill}"']
        if look.opacity != "1":
            attributes.append(f'fill-opacity="{look.opacity}"')
        if look.stroke != "none":
            width = _plain(self.on_paper(look.line))
            attributes.append(f'stroke="{look.stroke}" stroke-width="{width}"')
        if look.dashed:
            attributes.append(f'stroke-dasharray="{_plain(self.on_paper(_DASH))}"')
        return " ".join(attributes)

    @property
    def centre_y(self) -> Fraction:
        """Return the height of both axes."""
        return self.on_paper(_MARGIN + 2 * _LINE_HEIGHT) + self.outer_radius

    def centre_x(self, column: int) -> Fraction:
        """Return where the axis of a view stands."""
        return self.on_paper(_MARGIN) + self.column * column + self.outer_radius

    def left(self, column: int) -> Fraction:
        """Return where a column begins."""
        return self.on_paper(_MARGIN) + self.column * column

    def below(self, line: int) -> Fraction:
        """Return the height of a caption's line under the views."""
        return self.centre_y + self.outer_radius + self.on_paper(_LINE_HEIGHT * (line + 1))


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    sizing = sizing_of(inputs)
    page = _page_of(sizing)
    left_captions = _captions_of_barrel(sizing)
    right_captions = _captions_of_nipple(sizing)
    lines = max(len(left_captions), len(right_captions))
    width = 2 * page.on_paper(_MARGIN) + 2 * page.column
    height = page.below(lines + 2) + page.on_paper(_MARGIN)
    title = f"Sac {size_text(sizing.recommended)} drawn {page.scale} to 1"
    description = ". ".join(caption.words for caption in (*left_captions, *right_captions))
    paper = f'x="0" y="0" width="{_plain(width)}" height="{_plain(height)}"'
    return "\n".join(
        (
            '<svg xmlns="http://www.w3.org/2000/svg" role="img" font-family="sans-serif"',
            f'font-size="{_plain(page.on_paper(_TEXT_HEIGHT))}" fill="{_INK}"',
            f'width="{_plain(width * page.scale)}mm" height="{_plain(height * page.scale)}mm"',
            f'viewBox="0 0 {_plain(width)} {_plain(height)}">',
            f"<title>{escape(title)}</title>",
            f"<desc>{escape(description)}.</desc>",
            f"<rect {page.painted('paper')} {paper}/>",
            *_barrel_view(inputs, sizing, page),
            *_nipple_view(sizing, page),
            *_captions(page, 0, left_captions),
            *_captions(page, 1, right_captions),
            *_scale_bar(page, lines),
            "</svg>",
        )
    )


def _page_of(sizing: Sizing) -> _Page:
    """Return the largest whole scale at which both views fit the paper side by side."""
    outer_radius = Fraction(_outer_nanometres(sizing), 2 * NANOMETRES_PER_MILLIMETRE)
    usable = (_PAPER_WIDTH - 2 * _MARGIN) / 2
    fitting = [scale for scale in _SCALES if (2 * outer_radius * scale + _MARGIN) <= usable]
    scale = fitting[0] if fitting else _SCALES[-1]
    column = max(2 * outer_radius + _MARGIN / scale, _COLUMN_AT_LEAST / scale)
    return _Page(scale=scale, column=column, outer_radius=outer_radius)


def _outer_nanometres(sizing: Sizing) -> int:
    """Return the widest thing drawn: the barrel with a wall, or a sac that does not enter."""
    bore_nanometres = sizing.readings.bore.mouth_nanometres
    return max(
        bore_nanometres + 2 * NANOMETRES_PER_MILLIMETRE,
        sizing.over_nipple_nanometres,
        sizing.ideal_nanometres,
    )


def _barrel_view(inputs: Inputs, sizing: Sizing, page: _Page) -> list[str]:
    """Return the bore with what stands in it, and the sac beside it."""
    readings = sizing.readings
    centre_x, centre_y = page.centre_x(0), page.centre_y
    bore_radius = _radius(readings.bore.mouth_nanometres)
    shapes = [
        _heading(page, 0, "In the guard" if readings.bore.in_guard else "In the barrel"),
        _circle(page, "wall", centre_x, centre_y, bore_radius + 1),
        _circle(page, "bore", centre_x, centre_y, bore_radius),
    ]
    tail_nanometres = readings.bore.tail_nanometres
    if tail_nanometres is not None:
        shapes.append(_circle(page, "tail", centre_x, centre_y, _radius(tail_nanometres)))
    sac_y = centre_y
    if readings.bar.times:
        shapes.extend(_bar(page, inputs, sizing))
        if readings.bar.times == 1:
            # Off centre, the sac lies in the middle of what the bar leaves.
            sac_y -= _radius(readings.bar.height_nanometres)
    inside_nanometres = sizing.ideal_nanometres - 2 * sizing.walls.nominal_nanometres
    shapes.append(_circle(page, "sac", centre_x, sac_y, _radius(sizing.ideal_nanometres)))
    if inside_nanometres > 0:
        shapes.append(_circle(page, "hole", centre_x, sac_y, _radius(inside_nanometres)))
    return [*shapes, *_cross(page, centre_x, centre_y)]


def _nipple_view(sizing: Sizing, page: _Page) -> list[str]:
    """Return the bore, the nipple, and the sac over it."""
    readings = sizing.readings
    centre_x, centre_y = page.centre_x(1), page.centre_y
    bore_radius = _radius(readings.bore.mouth_nanometres)
    return [
        _heading(page, 1, "Over the nipple"),
        _circle(page, "wall", centre_x, centre_y, bore_radius + 1),
        _circle(page, "bore", centre_x, centre_y, bore_radius),
        _circle(page, "over-nipple", centre_x, centre_y, _radius(sizing.over_nipple_nanometres)),
        _circle(page, "nipple", centre_x, centre_y, _radius(readings.nipple_nanometres)),
        *_cross(page, centre_x, centre_y),
    ]


def _bar(page: _Page, inputs: Inputs, sizing: Sizing) -> list[str]:
    """Return the bar lying as a chord at the bottom of the bore, or the ring round its wall."""
    readings = sizing.readings
    centre_x, centre_y = page.centre_x(0), page.centre_y
    bore_nanometres = readings.bore.governing_nanometres
    height_nanometres = readings.bar.height_nanometres
    inner_radius = _radius(bore_nanometres - 2 * height_nanometres)
    if readings.bar.reading == "ring_wire":
        return [
            _circle(page, "ring", centre_x, centre_y, _radius(bore_nanometres)),
            _circle(page, "bore", centre_x, centre_y, max(inner_radius, Fraction(0))),
        ]
    width_nanometres = inputs.length("bar_width")
    if readings.bar.reading != "bar_thickness" or width_nanometres is None:
        width_nanometres = _illustrative_width(bore_nanometres, height_nanometres)
    # The edges touch the wall, the face stands off it by the height.
    edge = _radius(isqrt(bore_nanometres**2 - width_nanometres**2))
    left = _plain(centre_x - _radius(width_nanometres))
    return [
        (
            f'<rect {page.painted("bar")} x="{left}" y="{_plain(centre_y + inner_radius)}" '
            f'width="{_plain(_radius(2 * width_nanometres))}" '
            f'height="{_plain(max(edge - inner_radius, Fraction(0)))}"/>'
        )
    ]


def _illustrative_width(bore_nanometres: int, height_nanometres: int) -> int:
    """Return a width for a bar of which only the height is known: half of it is the sagitta."""
    return isqrt(max(bore_nanometres**2 - (bore_nanometres - height_nanometres) ** 2, 0))


def _captions_of_barrel(sizing: Sizing) -> list[_Caption]:
    """Return what the left view shows, in numbers, each with the key to its shape."""
    readings = sizing.readings
    bar = readings.bar
    bore_word = "Guard bore" if readings.bore.in_guard else "Bore"
    captions = [_Caption(f"{bore_word} {length_text(readings.bore.mouth_nanometres)}", "bore")]
    if readings.bore.tail_nanometres is not None:
        tail_text = length_text(readings.bore.tail_nanometres)
        captions.append(_Caption(f"At the tail {tail_text}", "tail"))
    if bar.times:
        ring = bar.reading == "ring_wire"
        thing = "Ring wire" if ring else "Bar"
        height_text = millimetres_text(bar.height_nanometres)
        captions.append(
            _Caption(
                f"{thing} {height_text} off the wall, counted {bar.rule}", "ring" if ring else "bar"
            )
        )
        if bar.reading in {"bar_height", "default"}:
            captions.append(_Caption("(its width is only an example)"))
    captions.append(_Caption(f"Clearance {length_text(readings.clearance.nanometres)}"))
    room_text = millimetres_text(readings.room_nanometres)
    limit_text = number_text(sizing.barrel_limit, 2)
    captions.append(_Caption(f"Leaves {room_text} = {limit_text}/64 in"))
    sac_text = millimetres_text(diameter_nanometres(sizing.recommended))
    captions.append(_Caption(f"Sac {size_text(sizing.recommended)}: {sac_text} outside", "sac"))
    if sizing.outcome is Outcome.CHECK_BARREL:
        captions.append(_Caption("Check the barrel before choosing a sac"))
    return captions


def _captions_of_nipple(sizing: Sizing) -> list[_Caption]:
    """Return what the right view shows, in numbers, each with the key to its shape."""
    readings = sizing.readings
    free = Fraction(readings.bore.mouth_nanometres - sizing.over_nipple_nanometres, 2)
    room = (
        f"Room all round {millimetres_text(free)}"
        if sizing.enters
        else "Does not enter: no room all round"
    )
    nipple_text = millimetres_text(readings.nipple_nanometres)
    limit_text = number_text(sizing.nipple_limit, 2)
    over_text = millimetres_text(sizing.over_nipple_nanometres)
    return [
        _Caption(f"Nipple {nipple_text} = {limit_text}/64 in", "nipple"),
        _Caption(f"Sac over it {over_text}", "sac"),
        _Caption(f"Wall {length_text(sizing.walls.nominal_nanometres)}"),
        _Caption(room),
    ]


def _scale_bar(page: _Page, lines: int) -> list[str]:
    """Return a bar of 5 mm of the pen, and the scale in words."""
    left, top = page.left(0), page.below(lines) + page.on_paper(Fraction(1))
    thick = page.on_paper(Fraction(1))
    words = f"{_plain(_SCALE_BAR)} mm of the pen. Scale {page.scale}:1 when printed at 100 %"
    return [
        (
            f'<rect {page.painted("scale")} x="{_plain(left)}" y="{_plain(top)}" '
            f'width="{_plain(_SCALE_BAR)}" height="{_plain(thick)}"/>'
        ),
        _text(left, top + page.on_paper(_LINE_HEIGHT), words),
    ]


def _captions(page: _Page, column: int, captions: list[_Caption]) -> list[str]:
    """Return the captions under a view, one to a line, behind the key to their shape."""
    side = page.on_paper(_TEXT_HEIGHT)
    drawn = []
    for line, caption in enumerate(captions):
        left, base = page.left(column), page.below(line)
        if caption.key:
            drawn.append(
                f'<rect {page.painted(caption.key)} x="{_plain(left)}" y="{_plain(base - side)}" '
                f'width="{_plain(side)}" height="{_plain(side)}"/>'
            )
        drawn.append(_text(left + page.on_paper(_KEY_WIDTH), base, caption.words))
    return drawn


def _heading(page: _Page, column: int, words: str) -> str:
    """Return the heading over a view."""
    top = page.on_paper(_MARGIN + _TEXT_HEIGHT)
    return _text(page.left(column), top, words, ' font-weight="bold"')


def _text(left: Fraction, top: Fraction, words: str, attributes: str = "") -> str:
    """Return one line of text, escaped."""
    return f'<text x="{_plain(left)}" y="{_plain(top)}"{attributes}>{escape(words)}</text>'


def _cross(page: _Page, centre_x: Fraction, centre_y: Fraction) -> list[str]:
    """Return the small cross on the axis."""
    arm = page.on_paper(Fraction(2))
    return [
        (
            f'<line {page.painted("axis")} x1="{_plain(centre_x - arm)}" y1="{_plain(centre_y)}" '
            f'x2="{_plain(centre_x + arm)}" y2="{_plain(centre_y)}"/>'
        ),
        (
            f'<line {page.painted("axis")} x1="{_plain(centre_x)}" y1="{_plain(centre_y - arm)}" '
            f'x2="{_plain(centre_x)}" y2="{_plain(centre_y + arm)}"/>'
        ),
    ]


def _circle(
    page: _Page, name: str, centre_x: Fraction, centre_y: Fraction, radius: Fraction
) -> str:
    """Return a circle whose radius is the number itself."""
    return (
        f'<circle {page.painted(name)} cx="{_plain(centre_x)}" cy="{_plain(centre_y)}" '
        f'r="{_plain(radius)}"/>'
    )


def _radius(diameter_nanometres: int) -> Fraction:
    """Return half a diameter in millimetres."""
    return Fraction(diameter_nanometres, 2 * NANOMETRES_PER_MILLIMETRE)


def _plain(millimetres: Fraction) -> str:
    """Return the number in full, to a tenth of a nanometre, without trailing zeros."""
    return number_text(millimetres, 7)
