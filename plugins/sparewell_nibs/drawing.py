"""The drawing: every grade as a band on one scale of widths, and the line across them.

The picture is a hundred times as wide as the line on the paper; printed at 100 %, 1 mm of the scale
measures 100 mm. Beside the scale the line itself is drawn at its own width.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from sparewell.plugin import INK, MARGIN, Drawing, Look, in_millimetres, length_text, number_text
from sparewell_nibs.widths import Grade

_BANDS: Final = {
    "Western": Look("band", "#c3d3dc", INK, line=Fraction(1, 5)),
    "Japanese": Look("band", "#efd9b4", INK, line=Fraction(1, 5)),
}
_TICK: Final = Look("tick", stroke="#b5b5b5", line=Fraction(1, 10))
_SPREAD: Final = Look("spread", "#8a3324", opacity=".2")
_WIDTH: Final = Look("width", stroke="#8a3324", line=Fraction(1, 2))
_TRUE_SIZE: Final = Look("true-size", INK)

_SCALE: Final = 100
_LEFT: Final = 28
_ROW: Final = 6
_END_BEYOND: Final = Fraction(3, 10)  # of a millimetre: how far an open band and the scale go on
_MOST_TICKS: Final = 25


def drawing_of(
    width_nanometres: int, spread_nanometres: int, systems: Sequence[tuple[str, Sequence[Grade]]]
) -> str:
    """Return the SVG document; widths in nanometres."""
    width, spread = in_millimetres(width_nanometres), in_millimetres(spread_nanometres)
    end = _end_of(width + spread, systems)
    grades = [(system, grade) for system, listed in systems for grade in listed]
    top = Fraction(3 * _ROW)
    chart = _Chart(end, top, top + len(grades) * _ROW)
    title = f"A line of {length_text(width_nanometres)} among the grades, {chart.scale} to 1"
    chart.picture.text(MARGIN, Fraction(_ROW), title, bold=True)
    chart.draw_ticks()
    for row, (system, grade) in enumerate(grades):
        chart.draw_grade(system, grade, top + row * _ROW)
    chart.draw_line(width, spread)
    words = f"The line itself when printed at 100 %: {length_text(width_nanometres)}"
    chart.picture.text(MARGIN, chart.bottom + 2 * _ROW, words)
    chart.picture.rectangle(_TRUE_SIZE, MARGIN, chart.bottom + 3 * _ROW, Fraction(60), width)
    return chart.picture.document(
        title,
        ". ".join(f"{system} {grade.code} {_range_text(grade)}" for system, grade in grades),
        chart.at(end) + MARGIN,
        chart.bottom + 4 * _ROW + width,
    )


def _end_of(width: Fraction, systems: Sequence[tuple[str, Sequence[Grade]]]) -> Fraction:
    """Return where the scale ends, in millimetres of line."""
    bounds = [
        in_millimetres(bound)
        for _, grades in systems
        for grade in grades
        for bound in (grade.low_nanometres, grade.high_nanometres)
        if bound is not None
    ]
    return max([width, *bounds]) + _END_BEYOND


class _Chart:
    """The chart under way, in millimetres on the paper: `scale` of them to one of line."""

    def __init__(self, end: Fraction, top: Fraction, bottom: Fraction) -> None:
        self.picture = Drawing(1)
        self.scale = _SCALE if end <= Fraction(_MOST_TICKS, 10) else 10
        self.end, self.top, self.bottom = end, top, bottom

    def at(self, width: Fraction) -> Fraction:
        """Return where a width stands on the scale."""
        return _LEFT + width * self.scale

    def draw_grade(self, system: str, grade: Grade, y: Fraction) -> None:
        """Draw a grade's name and its band; one whose bounds are crossed has none."""
        self.picture.text(MARGIN, y + 4, f"{system} {grade.code}")
        low, high = in_millimetres(grade.low_nanometres), self.end
        if grade.high_nanometres is not None:
            high = in_millimetres(grade.high_nanometres)
        if high >= low:
            wide = (high - low) * self.scale
            self.picture.rectangle(_BANDS[system], self.at(low), y, wide, Fraction(5))

    def draw_ticks(self) -> None:
        """Draw the ticks of the scale and their numbers, a tenth of a millimetre apart or one."""
        step = Fraction(1, 10) if self.scale == _SCALE else Fraction(1)
        for tick in range(int(self.end / step) + 1):
            x = self.at(tick * step)
            self.picture.line(_TICK, (x, self.top - 1), (x, self.bottom))
            self.picture.text(x - 2, self.top - 2, number_text(tick * step, 1))

    def draw_line(self, width: Fraction, spread: Fraction) -> None:
        """Draw the width as a line across the bands, with its spread as a pale stripe."""
        x = self.at(width)
        if spread:
            wide, high = 2 * spread * self.scale, self.bottom - self.top
            self.picture.rectangle(_SPREAD, self.at(width - spread), self.top, wide, high)
        self.picture.line(_WIDTH, (x, self.top - 1), (x, self.bottom + 1))


def _range_text(grade: Grade) -> str:
    """Return a grade's bounds in words."""
    low = length_text(grade.low_nanometres)
    if grade.high_nanometres is None:
        return f"from {low} up"
    return f"{low} to {length_text(grade.high_nanometres)}"
