"""From the inputs to what the sheet gives; no sheet, no answer."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sparewell.plugin import ImpossibleInput, Inputs, millimetres_text
from sparewell_gaskets.layout import (
    Layout,
    SheetToCut,
    square_layout,
    staggered_layout,
    waste_percent,
)
from sparewell_gaskets.sizing import WantedWasher


@dataclass(frozen=True)
class Cutting:
    """Both layouts on one sheet, the better of them, and what is wasted by it."""

    sheet: SheetToCut
    square: Layout
    staggered: Layout
    waste_percent: Fraction

    @property
    def best(self) -> Layout:
        """Return the layout that gives more; equal, the square one, which is easier to mark."""
        return best_of(self.square, self.staggered)


def best_of(square: Layout, staggered: Layout) -> Layout:
    """Return the layout that gives more; equal, the square one."""
    return staggered if staggered.count > square.count else square


def cutting_of(inputs: Inputs, washer: WantedWasher) -> Cutting | None:
    """Return what the sheet gives, or None without a sheet; raise ImpossibleInput."""
    sheet = _sheet_of(inputs)
    if sheet is None:
        return None
    square = square_layout(sheet, washer.outside_nanometres)
    staggered = staggered_layout(sheet, washer.outside_nanometres)
    waste = waste_percent(
        sheet,
        best_of(square, staggered).count,
        outside_nanometres=washer.outside_nanometres,
        inside_nanometres=washer.inside_nanometres or 0,
    )
    return Cutting(sheet, square, staggered, waste)


def _sheet_of(inputs: Inputs) -> SheetToCut | None:
    """Return the sheet with its web and edge."""
    length = inputs.length("sheet_length")
    width = inputs.length("sheet_width")
    if length is None and width is None:
        return None
    if length is None or width is None:
        missing = "sheet_length" if length is None else "sheet_width"
        raise ImpossibleInput((missing, "A sheet needs its length and its width."))
    spacing = inputs.length("spacing")
    edge = inputs.length("sheet_edge")
    sheet = SheetToCut(
        length_nanometres=length,
        width_nanometres=width,
        spacing_nanometres=inputs.setting_length("gasket.spacing") if spacing is None else spacing,
        edge_nanometres=inputs.setting_length("gasket.sheet_edge") if edge is None else edge,
    )
    if sheet.usable_length_nanometres <= 0 or sheet.usable_width_nanometres <= 0:
        name = "sheet_edge" if edge is not None else "sheet_width"
        raise ImpossibleInput(
            (
                name,
                (
                    f"An edge of {millimetres_text(sheet.edge_nanometres)} all round leaves "
                    f"nothing of {millimetres_text(length)} by {millimetres_text(width)}."
                ),
            )
        )
    return sheet
