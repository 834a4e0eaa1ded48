"""The calculators `gasket`, `packing` and `head_washer`: one rule, asked three ways."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from sparewell.plugin import Answer, Calculator, Field, Inputs, Judgement, Piece, rounded
from sparewell_gaskets import fit
from sparewell_gaskets.cutting import Cutting, cutting_of
from sparewell_gaskets.drawing import drawing
from sparewell_gaskets.inputs import HEAD_WASHER_INPUTS, INPUTS, PACKING_INPUTS, WasherMode
from sparewell_gaskets.kind import KIND, SHEET
from sparewell_gaskets.notices import cautions_of, warnings_of
from sparewell_gaskets.outputs import OUTPUTS
from sparewell_gaskets.punches import (
    NearestPunch,
    hole_will_do,
    known_head,
    nearest,
    outside_will_do,
)
from sparewell_gaskets.settings import PUBLIC_FAQ, SETTINGS
from sparewell_gaskets.sizing import washer_of
from sparewell_gaskets.wording import trade_text
from sparewell_gaskets.working import working_of

SOURCES: Final = (
    f"Head washers, their thickness, their hole and the three known sizes: {PUBLIC_FAQ}.",
    (
        "A packing's hole a little under the rod, its outside a little over the cavity: common "
        "practice, no source."
    ),
    (
        "Cork turned slightly over its bore, hole drilled under size: a public forum thread on "
        "cork seals."
    ),
    "Washers on a sheet, waste: derived here: plane geometry.",
)


def compute(inputs: Inputs) -> Answer:
    """Answer which washer the place takes; raise ImpossibleInput where inputs contradict."""
    washer = washer_of(inputs)
    cutting = cutting_of(inputs, washer)
    punches = inputs.setting_lengths("gasket.punches")
    outside_does, hole_does = outside_will_do(inputs, washer), hole_will_do(inputs, washer)
    punch = nearest(washer.outside_nanometres, punches, near_enough=outside_does)
    inside_punch = None
    if washer.inside_nanometres is not None:
        inside_punch = nearest(washer.inside_nanometres, punches, near_enough=hole_does)
    known = None
    if washer.is_head:
        known = known_head(washer.outside_nanometres, near_enough=outside_does)
    stack = washer.stack
    result = {
        "mode": washer.mode.value,
        "outside_diameter": washer.outside_nanometres,
        "inside_diameter": washer.inside_nanometres,
        "thickness": washer.thickness_nanometres,
        "stack": None
        if stack is None
        else {
            "count": stack.count,
            "height": stack.height_nanometres,
            "proud": stack.proud_nanometres,
        },
        "outside_punch": _near_members(punch),
        "inside_punch": _near_members(inside_punch),
        "known_size": _near_members(known),
        **_cutting_members(cutting),
        "working": working_of(inputs, washer, cutting),
    }
    return Answer(
        result=result,
        warnings=warnings_of(inputs, washer, punch, cutting),
        cautions=cautions_of(inputs),
    )


def _near_members(near: NearestPunch | None) -> Mapping[str, object] | None:
    """Return a diameter that exists as the result carries it."""
    if near is None:
        return None
    return {
        "diameter": near.nanometres,
        "called": trade_text(near.nanometres),
        "difference": near.difference_nanometres,
        "near_enough": near.is_near_enough,
    }


def _cutting_members(cutting: Cutting | None) -> Mapping[str, object]:
    """Return the yield of the sheet as the result carries it."""
    if cutting is None:
        names = ("count_square", "count_staggered", "best", "best_count", "rows_along")
        return dict.fromkeys((*names, "waste_percent"))
    return {
        "count_square": cutting.square.count,
        "count_staggered": cutting.staggered.count,
        "best": cutting.best.name,
        "best_count": cutting.best.count,
        "rows_along": "length" if cutting.best.along_length else "width",
        "waste_percent": rounded(cutting.waste_percent, 2),
    }


# Common practice, no source.
_FILLS: Final = "fill the cavity: add until the rod drags evenly; what is left goes back"
_ASKED_FIRST = frozenset({"mode", "bore", "rod", "seat_depth", "backing_washer", "head_stem"})


def _calculator(
    name: str, title: str, text: str, inputs: tuple[Field, ...], mode: WasherMode | None = None
) -> Calculator:
    """Return a calculator of the one rule; `mode` is what it is asked about always."""

    def held(given: Inputs) -> Inputs:
        return given if mode is None else given.changed(mode=mode.value)

    def judge(given: Inputs, piece: Piece) -> Judgement:
        return fit.judge(held(given), piece)

    return Calculator(
        name=name,
        title=title,
        help=text,
        inputs=inputs,
        outputs=OUTPUTS,
        headline=("outside_diameter", "inside_diameter", "thickness"),
        asks_first=tuple(each.name for each in inputs if each.name in _ASKED_FIRST),
        compute=lambda given: compute(held(given)),
        sources=SOURCES,
        settings=SETTINGS,
        kind=KIND,
        envelope=lambda given: fit.envelope(held(given)),
        judge=judge,
        drawing=lambda given: drawing(held(given)),
        made_from=SHEET.name,
        make=lambda given, piece: fit.make(held(given), piece),
        quantity="stack.count" if mode is WasherMode.PACKING else "",
        quantity_says=_FILLS if mode is WasherMode.PACKING else "",
    )


GASKET_CALCULATOR: Final = _calculator(
    KIND,
    "Gasket or washer",
    "Which washer a seat, a cavity or a plunger takes, and how many a sheet gives.",
    INPUTS,
)

PACKING_CALCULATOR: Final = _calculator(
    "packing",
    "Packing round a rod",
    "The same rule for a packing alone: tight on a moving rod and in its cavity.",
    PACKING_INPUTS,
    WasherMode.PACKING,
)

HEAD_WASHER_CALCULATOR: Final = _calculator(
    "head_washer",
    "Head washer of a plunger",
    "The same rule for a plunger's head washer alone, from its backing washer.",
    HEAD_WASHER_INPUTS,
    WasherMode.HEAD_WASHER,
)

CALCULATORS: Final = (GASKET_CALCULATOR, PACKING_CALCULATOR, HEAD_WASHER_CALCULATOR)
