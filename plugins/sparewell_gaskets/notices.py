"""What is said beside the answer: warnings about these inputs, cautions about the work."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from sparewell.plugin import Inputs, millimetres_text
from sparewell_gaskets.cutting import Cutting
from sparewell_gaskets.inputs import READ_BY_MODE, WasherMode
from sparewell_gaskets.punches import NearestPunch
from sparewell_gaskets.sizing import WantedWasher
from sparewell_gaskets.wording import trade_text

_CAUTIONS: Final = (
    (
        "Punches, knives and turning mandrels cut: punch down on a block and keep the other hand "
        "away from the line of the blow."
    ),
    (
        "Picking out old packing scratches rod and cavity, and a scratch leaks: use wood or "
        "plastic, not steel."
    ),
    "The safety sheets of the products in use come before anything said here.",
)

_BY_MATERIAL: Final = {
    "latex": (
        "Latex can cause allergy: tell the owner that it was fitted. Oil and petroleum jelly "
        "destroy it."
    ),
    "epdm": "Oil and petroleum jelly swell EPDM: silicone grease only.",
    "silicone": "Silicone grease may swell or soften silicone: another lubricant, and sparingly.",
    "cork": (
        "Sanding dust of cork is bad to breathe: wear a mask. Melted wax burns and catches fire: "
        "melt it in a water bath, without a flame."
    ),
    "felt": "Felt needs grease or wax to seal; melted wax burns: a water bath, without a flame.",
}

_PLACES: Final = frozenset().union(*READ_BY_MODE.values())


def cautions_of(inputs: Inputs) -> tuple[str, ...]:
    """Return the cautions for the material and for the work."""
    by_material = _BY_MATERIAL.get(inputs.text("material") or "")
    return (*((by_material,) if by_material else ()), *_CAUTIONS)


def warnings_of(
    inputs: Inputs, washer: WantedWasher, punch: NearestPunch | None, cutting: Cutting | None
) -> tuple[str, ...]:
    """Return every warning, the gravest first."""
    return (
        *_of_head(inputs, washer),
        *_of_seat(inputs, washer),
        *_of_material(inputs, washer),
        *_of_punch(inputs, washer, punch),
        *_of_sheet(washer, cutting),
        *_of_unused(inputs, washer),
    )


def _of_head(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield what is wrong with the head washer in its barrel, or with its sheet."""
    if not washer.is_head:
        return
    bore = inputs.length("barrel_bore")
    over = None if bore is None else washer.outside_nanometres - bore
    if bore is not None and over is not None:
        bore_text, outside = millimetres_text(bore), millimetres_text(washer.outside_nanometres)
        if over < 0:
            yield (
                f"{outside} does not reach the wall of a bore of {bore_text}: it would leak. Is "
                "the backing washer worn, or of another pen?"
            )
        if over > inputs.setting_length("gasket.head_most_over"):
            yield f"{outside} in a bore of {bore_text} snags and tears: measure both again."
    thick = inputs.setting_length("gasket.head_thick_from")
    if washer.thickness_nanometres is not None and washer.thickness_nanometres >= thick:
        yield (
            f"Sheet of {millimetres_text(washer.thickness_nanometres)} is thicker than is best for "
            f"a head washer: {millimetres_text(inputs.setting_length('gasket.head_thickness'))}."
        )


def _of_seat(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield what the depth of the seat says of the thickness or the stack."""
    depth, thickness = inputs.length("seat_depth"), washer.thickness_nanometres
    if depth is None or thickness is None:
        return
    if washer.mode is WasherMode.WASHER and washer.thickness_given:
        if thickness <= depth:
            yield (
                f"{millimetres_text(thickness)} in a seat {millimetres_text(depth)} deep is not "
                "squeezed when it is closed: it would leak. Take thicker sheet."
            )
        elif 4 * depth < 3 * thickness:
            yield (
                f"{millimetres_text(thickness)} in a seat {millimetres_text(depth)} deep is "
                "squeezed by more than a quarter: the seat may not close. Take thinner sheet."
            )
    stack = washer.stack
    if stack is None:
        return
    if stack.proud_nanometres < 0:
        yield (
            f"{stack.count} of {millimetres_text(thickness)} leave "
            f"{millimetres_text(-stack.proud_nanometres)} of the cavity free, and one more would "
            "not let it close: make it up with a thinner one."
        )
    elif thickness > depth * (1 + inputs.setting_number("gasket.packing_crush_most") / 100):
        yield (
            f"One washer of {millimetres_text(thickness)} is already too thick for a cavity "
            f"{millimetres_text(depth)} deep: take thinner sheet."
        )


def _of_material(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield what the material asked for brings with it."""
    material = inputs.text("material")
    if washer.mode is WasherMode.PACKING and material == "silicone":
        yield "Silicone tears round a moving rod: NBR, EPDM or FKM wears better."
    if material == "cork" and washer.mode is WasherMode.PACKING:
        yield (
            "Cork is turned, not punched: drill the hole first, turn on a spindle, try it, and "
            "expect two or three tries."
        )


def _of_punch(inputs: Inputs, washer: WantedWasher, punch: NearestPunch | None) -> Iterator[str]:
    """Yield what the nearest punch would do."""
    if punch is None:
        yield (
            "No punch is listed (setting gasket.punches): list what is in the drawer and the "
            "nearest is named."
        )
        return
    off = punch.difference_nanometres
    if punch.is_near_enough or (inputs.text("material") == "cork"):
        return
    does = {
        WasherMode.HEAD_WASHER: ("leaks", "snags and tears"),
        WasherMode.PACKING: ("leaks", "drags, or does not go in"),
        WasherMode.WASHER: ("slides about in its seat", "does not lie flat in its seat"),
        WasherMode.SHEET: ("is too small", "is too large"),
    }[washer.mode][off > 0]
    yield (
        f"No punch will do for {millimetres_text(washer.outside_nanometres)}: the nearest, "
        f"{trade_text(punch.nanometres)}, is {millimetres_text(abs(off))} "
        f"{'larger' if off > 0 else 'smaller'}, and what it cuts {does}."
    )


def _of_sheet(washer: WantedWasher, cutting: Cutting | None) -> Iterator[str]:
    """Yield that nothing can be cut, or that the staggered rows lie across."""
    if cutting is None:
        return
    if cutting.best.count == 0:
        yield (
            f"No washer of {millimetres_text(washer.outside_nanometres)} can be cut from "
            f"{millimetres_text(cutting.sheet.length_nanometres)} by "
            f"{millimetres_text(cutting.sheet.width_nanometres)}."
        )


def _of_unused(inputs: Inputs, washer: WantedWasher) -> Iterator[str]:
    """Yield each reading that was given and is not used in this case."""
    read = READ_BY_MODE[washer.mode]
    for name in sorted(_PLACES - read):
        if name in inputs:
            yield f"{name} is not used: the case is {washer.mode}."
