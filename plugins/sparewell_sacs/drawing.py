"""The drawing: two views along the axis, true to scale, with their numbers.

The units of the picture are millimetres of the pen, so every circle's radius is the number itself
to the nanometre. The page enlarges them by a whole factor, which is written on the drawing beside
a bar of 5 mm; printed at 100 %, a ruler on the paper reads that factor times the pen.

Left: the bore, what stands in it, and the sac. Right: the bore, the nipple, and the sac over it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt
from typing import Final

from sparewell.plugin import (
    LINE_HEIGHT,
    MARGIN,
    NANOMETRES_PER_MILLIMETRE,
    PAPER_WIDTH,
    TEXT_HEIGHT,
    Drawing,
    Inputs,
    Look,
    largest_scale,
    length_text,
    millimetres_text,
    number_text,
)
from sparewell_sacs.limits import SizingOutcome, diameter_nanometres
from sparewell_sacs.sizing import Sizing, sizing_of
from sparewell_sacs.wording import size_text

_SCALES: Final = tuple(Fraction(scale) for scale in (10, 8, 6, 5, 4, 3, 2, 1))
_KEY_WIDTH: Final = 5  # millimetres on the paper, as what follows
_COLUMN_AT_LEAST: Final = 84  # the longest caption fits
_SCALE_BAR: Final = Fraction(5)

_LINE: Final = Fraction(1, 2)
_WALL: Final = Look("wall", "#efe9dd", "#5b5348")
_BORE: Final = Look("bore", "#ffffff", "#3b352d")
_BAR: Final = Look("bar", "#8d97a0", "#39424a")
_RING: Final = Look("ring", "#8d97a0", "#39424a")
_TAIL: Final = Look("tail", stroke="#39424a", dashed=True)
_SAC: Final = Look("sac", "#c9705f", "#8a3324", line=_LINE, opacity=".35")
_HOLE: Final = Look("hole", "#ffffff", "#8a3324", opacity=".6")
_OVER_NIPPLE: Final = Look("over-nipple", "#c9705f", "#8a3324", line=_LINE, opacity=".35")
_NIPPLE: Final = Look("nipple", "#c3d3dc", "#1d4355", line=_LINE)
_AXIS: Final = Look("axis", stroke="#6b6b6b", line=Fraction(1, 8))


@dataclass(frozen=True)
class _Caption:
    """One line under a view; `key` is the look of the shape it speaks of."""

    words: str
    key: Look | None = None


@dataclass(frozen=True)
class _View:
    """One of the two views: a column of the page, in millimetres of the pen."""

    picture: Drawing
    left: Fraction
    radius: Fraction  # of the widest thing drawn

    @property
    def x(self) -> Fraction:
        """Where its axis stands."""
        return self.left + self.radius

    @property
    def y(self) -> Fraction:
        """The height of its axis."""
        return self.picture.on_paper(MARGIN + 2 * LINE_HEIGHT) + self.radius

    def below(self, line: int) -> Fraction:
        """Return the base of a caption's line under the view."""
        return self.y + self.radius + self.picture.on_paper(LINE_HEIGHT * (line + 1))

    def draw_barrel(self, bore_nanometres: int, heading: str) -> None:
        """Draw the heading, and the barrel with a wall of a millimetre."""
        top = self.picture.on_paper(MARGIN + TEXT_HEIGHT)
        self.picture.text(self.left, top, heading, bold=True)
        self.circle(_WALL, bore_nanometres + 2 * NANOMETRES_PER_MILLIMETRE)
        self.circle(_BORE, bore_nanometres)

    def circle(self, look: Look, diameter_nanometres: int, above: Fraction = Fraction(0)) -> None:
        """Draw a circle on the axis, or so far above it."""
        self.picture.circle(look, self.x, self.y - above, _radius(diameter_nanometres))

    def draw_cross(self) -> None:
        """Draw the small cross on the axis."""
        arm = self.picture.on_paper(2)
        self.picture.line(_AXIS, (self.x - arm, self.y), (self.x + arm, self.y))
        self.picture.line(_AXIS, (self.x, self.y - arm), (self.x, self.y + arm))

    def draw_captions(self, captions: Sequence[_Caption]) -> None:
        """Write the captions under the view, one to a line, behind the key to their shape."""
        side = self.picture.on_paper(TEXT_HEIGHT)
        beside = self.left + self.picture.on_paper(_KEY_WIDTH)
        for line, caption in enumerate(captions):
            base = self.below(line)
            if caption.key is not None:
                self.picture.rectangle(caption.key, self.left, base - side, side, side)
            self.picture.text(beside, base, caption.words)


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    sizing = sizing_of(inputs)
    radius = _radius(_outer_nanometres(sizing))
    room = (PAPER_WIDTH - 2 * MARGIN) / 2 - MARGIN
    picture = Drawing(largest_scale(2 * radius, room, _SCALES))
    margin = picture.on_paper(MARGIN)
    column = max(2 * radius + margin, picture.on_paper(_COLUMN_AT_LEAST))
    left = _View(picture, margin, radius)
    right = _View(picture, margin + column, radius)
    left_captions, right_captions = _captions_of_barrel(sizing), _captions_of_nipple(sizing)
    _draw_in_barrel(left, inputs, sizing)
    _draw_over_nipple(right, sizing)
    left.draw_captions(left_captions)
    right.draw_captions(right_captions)
    lines = max(len(left_captions), len(right_captions))
    picture.scale_bar(left.left, left.below(lines) + picture.on_paper(1), _SCALE_BAR)
    return picture.document(
        f"Sac {size_text(sizing.recommended)} drawn {picture.scale} to 1",
        ". ".join(caption.words for caption in (*left_captions, *right_captions)),
        2 * margin + 2 * column,
        left.below(lines + 2) + margin,
    )


def _outer_nanometres(sizing: Sizing) -> int:
    """Return the widest thing drawn: the barrel with a wall, or a sac that does not enter."""
    bore_nanometres = sizing.readings.bore.mouth_nanometres
    return max(
        bore_nanometres + 2 * NANOMETRES_PER_MILLIMETRE,
        sizing.over_nipple_nanometres,
        sizing.ideal_nanometres,
    )


def _draw_in_barrel(view: _View, inputs: Inputs, sizing: Sizing) -> None:
    """Draw the bore with what stands in it, and the sac beside it."""
    readings = sizing.readings
    heading = "In the guard" if readings.bore.in_guard else "In the barrel"
    view.draw_barrel(readings.bore.mouth_nanometres, heading)
    if readings.bore.tail_nanometres is not None:
        view.circle(_TAIL, readings.bore.tail_nanometres)
    above = Fraction(0)
    if readings.bar.times:
        _draw_bar(view, inputs, sizing)
        if readings.bar.times == 1:
            # Off centre, the sac lies in the middle of what the bar leaves.
            above = _radius(readings.bar.height_nanometres)
    inside_nanometres = sizing.ideal_nanometres - 2 * sizing.walls.nominal_nanometres
    view.circle(_SAC, sizing.ideal_nanometres, above)
    if inside_nanometres > 0:
        view.circle(_HOLE, inside_nanometres, above)
    view.draw_cross()


def _draw_over_nipple(view: _View, sizing: Sizing) -> None:
    """Draw the bore, the nipple, and the sac over it."""
    view.draw_barrel(sizing.readings.bore.mouth_nanometres, "Over the nipple")
    view.circle(_OVER_NIPPLE, sizing.over_nipple_nanometres)
    view.circle(_NIPPLE, sizing.readings.nipple_nanometres)
    view.draw_cross()


def _draw_bar(view: _View, inputs: Inputs, sizing: Sizing) -> None:
    """Draw the bar as a chord at the bottom of the bore, or the ring round its wall."""
    bar = sizing.readings.bar
    bore_nanometres = sizing.readings.bore.governing_nanometres
    inner_nanometres = bore_nanometres - 2 * bar.height_nanometres
    if bar.reading == "ring_wire":
        view.circle(_RING, bore_nanometres)
        view.circle(_BORE, max(inner_nanometres, 0))
        return
    width_nanometres = inputs.length("bar_width")
    if bar.reading != "bar_thickness" or width_nanometres is None:
        width_nanometres = _illustrative_width(bore_nanometres, bar.height_nanometres)
    # The edges touch the wall, the face stands off it by the height.
    edge = _radius(isqrt(bore_nanometres**2 - width_nanometres**2))
    face = _radius(inner_nanometres)
    view.picture.rectangle(
        _BAR,
        view.x - _radius(width_nanometres),
        view.y + face,
        2 * _radius(width_nanometres),
        max(edge - face, Fraction(0)),
    )


def _illustrative_width(bore_nanometres: int, height_nanometres: int) -> int:
    """Return a width for a bar of which only the height is known: half of it is the sagitta."""
    return isqrt(max(bore_nanometres**2 - (bore_nanometres - height_nanometres) ** 2, 0))


def _captions_of_barrel(sizing: Sizing) -> list[_Caption]:
    """Return what the left view shows, in numbers, each with the key to its shape."""
    readings = sizing.readings
    bar = readings.bar
    bore_word = "Guard bore" if readings.bore.in_guard else "Bore"
    captions = [_Caption(f"{bore_word} {length_text(readings.bore.mouth_nanometres)}", _BORE)]
    if readings.bore.tail_nanometres is not None:
        tail_text = length_text(readings.bore.tail_nanometres)
        captions.append(_Caption(f"At the tail {tail_text}", _TAIL))
    if bar.times:
        ring = bar.reading == "ring_wire"
        thing = "Ring wire" if ring else "Bar"
        height_text = millimetres_text(bar.height_nanometres)
        captions.append(
            _Caption(
                f"{thing} {height_text} off the wall, counted {bar.rule}", _RING if ring else _BAR
            )
        )
        if bar.reading in {"bar_height", "default"}:
            captions.append(_Caption("(its width is only an example)"))
    captions.append(_Caption(f"Clearance {length_text(readings.clearance.nanometres)}"))
    room_text = millimetres_text(readings.room_nanometres)
    limit_text = number_text(sizing.barrel_limit, 2)
    captions.append(_Caption(f"Leaves {room_text} = {limit_text}/64 in"))
    sac_text = millimetres_text(diameter_nanometres(sizing.recommended))
    captions.append(_Caption(f"Sac {size_text(sizing.recommended)}: {sac_text} outside", _SAC))
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
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
        _Caption(f"Nipple {nipple_text} = {limit_text}/64 in", _NIPPLE),
        _Caption(f"Sac over it {over_text}", _SAC),
        _Caption(f"Wall {length_text(sizing.walls.nominal_nanometres)}"),
        _Caption(room),
    ]


def _radius(diameter_nanometres: int) -> Fraction:
    """Return half a diameter in millimetres."""
    return Fraction(diameter_nanometres, 2 * NANOMETRES_PER_MILLIMETRE)
