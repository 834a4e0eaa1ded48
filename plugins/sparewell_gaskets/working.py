"""Every step of the answer in a sentence, with its numbers."""

from __future__ import annotations

from collections.abc import Iterator

from sparewell.plugin import Inputs, length_text, millimetres_text, number_text
from sparewell_gaskets.cutting import Cutting
from sparewell_gaskets.inputs import WasherMode
from sparewell_gaskets.layout import Layout
from sparewell_gaskets.sizing import WantedWasher, is_cork


def working_of(inputs: Inputs, washer: WantedWasher, cutting: Cutting | None) -> list[str]:
    """Return the working, in the order in which it is reckoned."""
    steps = {
        WasherMode.PACKING: _of_packing,
        WasherMode.WASHER: _of_flat,
        WasherMode.HEAD_WASHER: _of_head,
        WasherMode.SHEET: _of_known,
    }[washer.mode]
    return [*steps(inputs, washer), *_of_stack(inputs, washer), *_of_cutting(cutting)]


def _of_packing(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield how a packing is sized."""
    bore, rod = inputs.length("bore") or 0, inputs.length("rod") or 0
    over = washer.outside_nanometres - bore
    what = "cork oversize" if is_cork(inputs) else "over the cavity"
    yield (
        f"Outside: bore {length_text(bore)} + {length_text(over)} {what} = "
        f"{millimetres_text(washer.outside_nanometres)}."
    )
    if is_cork(inputs):
        under = f"- {length_text(inputs.setting_length('gasket.hole_under'))} under size"
    else:
        under = f"less {number_text(inputs.setting_number('gasket.under_rod'), 2)} %"
    yield (
        f"Hole: rod {length_text(rod)} {under} = {millimetres_text(washer.inside_nanometres or 0)}."
    )


def _of_flat(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield how a flat washer is sized."""
    bore, rod, depth = (inputs.length(name) for name in ("bore", "rod", "seat_depth"))
    clearance = length_text(inputs.setting_length("gasket.washer_clearance"))
    yield (
        f"Outside: seat {length_text(bore or 0)} - {clearance} so that it lies flat = "
        f"{millimetres_text(washer.outside_nanometres)}."
    )
    if rod is None:
        yield "Hole: none, since nothing goes through; give rod for one."
    else:
        over = length_text(inputs.setting_length("gasket.washer_hole_over"))
        yield (
            f"Hole: rod {length_text(rod)} + {over} = "
            f"{millimetres_text(washer.inside_nanometres or 0)}."
        )
    thickness = washer.thickness_nanometres
    if thickness is None:
        yield "Thickness: not worked out, since the depth of the seat was not given."
    elif washer.thickness_given:
        yield f"Thickness: {length_text(thickness)}, as given."
    else:
        squeeze = number_text(inputs.setting_number("gasket.seat_squeeze"), 2)
        yield (
            f"Thickness: {millimetres_text(thickness)}, which the seat of "
            f"{length_text(depth or 0)} squeezes by {squeeze} %."
        )


def _of_head(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield how a head washer is sized."""
    backing = inputs.length("backing_washer") or 0
    over = length_text(inputs.setting_length("gasket.head_over_backing"))
    yield (
        f"Outside: backing washer {length_text(backing)} + {over}, a hair = "
        f"{millimetres_text(washer.outside_nanometres)}. Too small leaks, too large snags and "
        "tears."
    )
    stem = washer.stem_nanometres or 0
    how = "as measured" if "head_stem" in inputs else "the usual one, since none was measured"
    under = length_text(inputs.setting_length("gasket.hole_under"))
    yield (
        f"Hole: stem {length_text(stem)} ({how}) - {under}, as it is cut under size = "
        f"{millimetres_text(washer.inside_nanometres or 0)}."
    )
    how = "as given" if washer.thickness_given else "as is best"
    yield f"Thickness: {length_text(washer.thickness_nanometres or 0)}, {how}."


def _of_known(_: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield the size that was given."""
    hole = "no hole"
    if washer.inside_nanometres is not None:
        hole = f"a hole of {length_text(washer.inside_nanometres)}"
    yield f"Size as given: {length_text(washer.outside_nanometres)} outside, {hole}."


def _of_stack(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield how many of a packing fill the cavity."""
    if washer.mode is not WasherMode.PACKING:
        return
    thickness = washer.thickness_nanometres or 0
    how = "as given" if washer.thickness_given else "the usual sheet, since none was given"
    yield f"Thickness of one: {length_text(thickness)}, {how}."
    depth = inputs.length("seat_depth")
    if washer.stack is None or depth is None:
        yield "How many: not worked out, since the depth of the cavity was not given."
        return
    proud = washer.stack.proud_nanometres
    stands = f"{millimetres_text(abs(proud))} {'over' if proud >= 0 else 'short of'}"
    yield (
        f"How many: {washer.stack.count} x {length_text(thickness)} = "
        f"{length_text(washer.stack.height_nanometres)}, {stands} a cavity "
        f"{length_text(depth)} deep."
    )


def _of_cutting(cutting: Cutting | None) -> Iterator[str]:
    """Yield how the sheet is filled."""
    if cutting is None:
        return
    sheet = cutting.sheet
    pitch = length_text(cutting.square.pitch_nanometres)
    yield (
        f"Sheet: {length_text(sheet.length_nanometres)} by {length_text(sheet.width_nanometres)}, "
        f"edge {length_text(sheet.edge_nanometres)}; a washer and its web of "
        f"{length_text(sheet.spacing_nanometres)} take {pitch}."
    )
    yield f"Square: {_rows(cutting.square)}."
    along = "length" if cutting.staggered.along_length else "width"
    yield (
        f"Staggered, rows along the {along} and 0.866 of that apart: {_rows(cutting.staggered)}."
    )
    yield (
        f"Waste of the {cutting.best.name} layout, holes included: "
        f"{number_text(cutting.waste_percent, 1)} %."
    )


def _rows(layout: Layout) -> str:
    """Return the rows of a layout in words."""
    if not layout.count:
        return "none goes on the sheet"
    each = str(layout.even)
    if layout.odd != layout.even and layout.rows > 1:
        each = f"{layout.even} and {layout.odd} by turns"
    plural = "row" if layout.rows == 1 else "rows"
    return f"{layout.rows} {plural} of {each} = {layout.count}"
