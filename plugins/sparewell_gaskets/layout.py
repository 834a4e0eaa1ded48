"""How many washers a sheet gives: pure arithmetic in whole nanometres.

Two washers may come as near as their diameter and the web between them: the pitch. In the square
layout rows stand a pitch apart. In the staggered one every other row is moved by half a pitch,
so that rows may close up to pitch x sqrt(3) / 2, the height of a triangle of equal sides.

Rows of the staggered layout may run along the length or along the width; the better is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt
from typing import Final

from sparewell.plugin import PI

_ROOT_SCALE: Final = 10**9


@dataclass(frozen=True)
class SheetToCut:
    """A sheet, and how washers are set on it. All in nanometres; spacing and edge may be zero."""

    length_nanometres: int
    width_nanometres: int
    spacing_nanometres: int
    edge_nanometres: int

    @property
    def usable_length_nanometres(self) -> int:
        """Return the length inside the edges; zero or less where nothing is left."""
        return self.length_nanometres - 2 * self.edge_nanometres

    @property
    def usable_width_nanometres(self) -> int:
        """Return the width inside the edges; zero or less where nothing is left."""
        return self.width_nanometres - 2 * self.edge_nanometres


@dataclass(frozen=True)
class Layout:
    """Rows of washers. `even` stand in the first, third, ... row, `odd` in the others."""

    name: str
    rows: int
    even: int
    odd: int
    along_length: bool
    outside_nanometres: int
    pitch_nanometres: int

    @property
    def count(self) -> int:
        """Return how many washers there are."""
        return self.even * ((self.rows + 1) // 2) + self.odd * (self.rows // 2)

    def centres(self) -> Iterator[tuple[Fraction, Fraction]]:
        """Yield each centre from the corner inside the edges, in nanometres: along, across.

        The distance between staggered rows is rounded up, to a thousand-millionth of a
        nanometre, so that drawn washers never overlap.
        """
        radius = Fraction(self.outside_nanometres, 2)
        pitch = self.pitch_nanometres
        if self.name == "square":
            between = Fraction(pitch)
        else:
            between = Fraction(isqrt(3 * (pitch * _ROOT_SCALE) ** 2) + 1, 2 * _ROOT_SCALE)
        for row in range(self.rows):
            moved = Fraction(pitch, 2) if self.name == "staggered" and row % 2 else Fraction(0)
            for place in range(self.odd if row % 2 else self.even):
                yield radius + moved + place * pitch, radius + row * between


def square_layout(sheet: SheetToCut, outside_nanometres: int) -> Layout:
    """Return the layout in columns and rows."""
    pitch = outside_nanometres + sheet.spacing_nanometres
    along = _in_a_row(sheet.usable_length_nanometres - outside_nanometres, pitch)
    rows = _in_a_row(sheet.usable_width_nanometres - outside_nanometres, pitch)
    if not along:
        rows = 0
    return Layout(
        name="square",
        rows=rows,
        even=along,
        odd=along,
        along_length=True,
        outside_nanometres=outside_nanometres,
        pitch_nanometres=pitch,
    )


def staggered_layout(sheet: SheetToCut, outside_nanometres: int) -> Layout:
    """Return the better of the two ways to lay staggered rows; equal, those along the length."""
    along = _staggered(sheet, outside_nanometres, along_length=True)
    across = _staggered(sheet, outside_nanometres, along_length=False)
    return across if across.count > along.count else along


def _staggered(sheet: SheetToCut, outside_nanometres: int, *, along_length: bool) -> Layout:
    """Return staggered rows that run along the length, or along the width."""
    row_nanometres = sheet.usable_length_nanometres
    across_nanometres = sheet.usable_width_nanometres
    if not along_length:
        row_nanometres, across_nanometres = across_nanometres, row_nanometres
    pitch = outside_nanometres + sheet.spacing_nanometres
    free_along = row_nanometres - outside_nanometres
    free_across = across_nanometres - outside_nanometres
    even = _in_a_row(free_along, pitch)
    odd = _in_a_row_moved(free_along, pitch)
    # k rows more fit where k x pitch x sqrt(3) / 2 <= free; squared, that is whole numbers.
    rows = 0
    if even and free_across >= 0:
        rows = isqrt(4 * free_across**2 // (3 * pitch**2)) + 1
    return Layout("staggered", rows, even, odd, along_length, outside_nanometres, pitch)


def _in_a_row(free_nanometres: int, pitch_nanometres: int) -> int:
    """Return how many stand in a row that is longer by so much than one of them."""
    return 0 if free_nanometres < 0 else free_nanometres // pitch_nanometres + 1


def _in_a_row_moved(free_nanometres: int, pitch_nanometres: int) -> int:
    """Return the same for a row that begins half a pitch later."""
    doubled = 2 * free_nanometres - pitch_nanometres
    return 0 if doubled < 0 else doubled // (2 * pitch_nanometres) + 1


def waste_percent(
    sheet: SheetToCut, count: int, *, outside_nanometres: int, inside_nanometres: int
) -> Fraction:
    """Return the share of the whole sheet that becomes no washer; what the hole gives is waste."""
    ring = PI / 4 * (outside_nanometres**2 - inside_nanometres**2)
    whole = sheet.length_nanometres * sheet.width_nanometres
    return 100 * (1 - count * ring / whole)
