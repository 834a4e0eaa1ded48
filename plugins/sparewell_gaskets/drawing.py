"""The drawing: the washer to scale, and with a sheet its better layout.

The units of the picture are millimetres, so every circle's radius is the number itself. The page
enlarges or reduces them by a factor that is written on it.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from sparewell.plugin import (
    Drawing,
    Inputs,
    Look,
    in_millimetres,
    largest_scale,
    millimetres_text,
    number_text,
)
from sparewell_gaskets.cutting import Cutting, cutting_of
from sparewell_gaskets.sizing import WantedWasher, washer_of

MOST_DRAWN: Final = 1_500

_RUBBER: Final = Look("washer", "#9aa7ad", "#2c3a40")
_HOLE: Final = Look("hole", "#ffffff", "#2c3a40")
_SHEET: Final = Look("sheet", "#efe9dd", "#5b5348")


def drawing(inputs: Inputs) -> str:
    """Return the SVG document, or raise ImpossibleInput."""
    washer = washer_of(inputs)
    cutting = cutting_of(inputs, washer)
    width = height = in_millimetres(washer.outside_nanometres)
    if cutting is not None:
        width = in_millimetres(cutting.sheet.length_nanometres)
        height = in_millimetres(cutting.sheet.width_nanometres)
    picture = Drawing(largest_scale(width))
    if cutting is None:
        _draw_washer(picture, washer, width / 2, height / 2)
    else:
        picture.rectangle(_SHEET, Fraction(0), Fraction(0), width, height)
        _draw_layout(picture, cutting, washer)
    return picture.captioned(_captions(washer, cutting), width, height)


def _draw_layout(picture: Drawing, cutting: Cutting, washer: WantedWasher) -> None:
    """Draw the washers of the better layout, as many as may be drawn."""
    best = cutting.best
    edge = in_millimetres(cutting.sheet.edge_nanometres)
    for number, (along, across) in enumerate(best.centres()):
        if number == MOST_DRAWN:
            return
        x, y = (along, across) if best.along_length else (across, along)
        _draw_washer(picture, washer, edge + in_millimetres(x), edge + in_millimetres(y))


def _draw_washer(picture: Drawing, washer: WantedWasher, x: Fraction, y: Fraction) -> None:
    picture.circle(_RUBBER, x, y, in_millimetres(washer.outside_nanometres) / 2)
    if washer.inside_nanometres is not None:
        picture.circle(_HOLE, x, y, in_millimetres(washer.inside_nanometres) / 2)


def _captions(washer: WantedWasher, cutting: Cutting | None) -> list[str]:
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
    return captions
