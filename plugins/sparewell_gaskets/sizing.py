"""From the inputs to the washer: which case it is, its size, and inputs that contradict.

packing      the hole a little under the rod, the outside a little over the cavity
washer       the outside a little under the bore of its seat, the hole a little over the rod, and
             thick enough that the closed seat squeezes it
head_washer  the outside a hair over the backing washer, the hole under the stem
sheet        the size is given
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from sparewell.plugin import (
    ImpossibleInput,
    Inputs,
    millimetres_text,
    worked_out_once,
)
from sparewell_gaskets.inputs import WasherMode
from sparewell_gaskets.wording import to_micrometre


@dataclass(frozen=True)
class Stack:
    """How many washers of a packing fill their cavity."""

    count: int
    height_nanometres: int
    proud_nanometres: int  # above the cavity; negative: room is left


@dataclass(frozen=True)
class WantedWasher:
    """The washer wanted. No inside is a disc; no thickness: whatever the sheet has."""

    mode: WasherMode
    outside_nanometres: int
    inside_nanometres: int | None
    thickness_nanometres: int | None
    thickness_given: bool
    stack: Stack | None = None
    stem_nanometres: int | None = None  # what goes through a head washer

    @property
    def is_head(self) -> bool:
        """Whether it is the washer on a plunger's head."""
        return self.mode is WasherMode.HEAD_WASHER


def mode_of(inputs: Inputs) -> WasherMode:
    """Return the case asked for, or the one that the inputs tell; raise where they tell two."""
    given = inputs.text("mode")
    if given is not None:
        return WasherMode(given)
    if "backing_washer" in inputs:
        if "bore" in inputs or "rod" in inputs:
            raise ImpossibleInput(
                (
                    "mode",
                    (
                        "A backing washer and a bore or rod are given: say with mode which of the "
                        "two is wanted, head_washer or packing."
                    ),
                )
            )
        return WasherMode.HEAD_WASHER
    if "bore" in inputs:
        return WasherMode.PACKING if "rod" in inputs else WasherMode.WASHER
    if "rod" in inputs:
        raise ImpossibleInput(("bore", "A rod needs the bore of the seat or cavity too."))
    if "outside_diameter" in inputs:
        return WasherMode.SHEET
    raise ImpossibleInput(
        (
            "mode",
            (
                "Give bore and rod for a packing, bore for a flat washer, backing_washer for a "
                "head washer, or outside_diameter with sheet_length and sheet_width."
            ),
        )
    )


@worked_out_once
def washer_of(inputs: Inputs) -> WantedWasher:
    """Return the washer wanted, or raise ImpossibleInput."""
    mode = mode_of(inputs)
    match mode:
        case WasherMode.PACKING:
            return _packing_of(inputs)
        case WasherMode.WASHER:
            return _flat_of(inputs)
        case WasherMode.HEAD_WASHER:
            return _head_of(inputs)
        case WasherMode.SHEET:
            return _known_of(inputs)


def is_cork(inputs: Inputs) -> bool:
    """Return whether cork was asked for."""
    return inputs.text("material") == "cork"


def needed(inputs: Inputs, name: str, words: str) -> int:
    """Return a length that the case cannot do without, or raise ImpossibleInput."""
    nanometres = inputs.length(name)
    if nanometres is None:
        raise ImpossibleInput((name, f"{words} is needed."))
    return nanometres


def _packing_of(inputs: Inputs) -> WantedWasher:
    """Return a packing: tight on the rod and in the cavity."""
    bore = needed(inputs, "bore", "The bore of the cavity")
    rod = needed(inputs, "rod", "The rod")
    _check_rod(rod, bore)
    if is_cork(inputs):
        outside = bore + inputs.setting_length("gasket.cork_oversize")
        inside = rod - inputs.setting_length("gasket.hole_under")
        _check_hole(inside, "rod", rod)
    else:
        outside = bore + inputs.setting_length("gasket.over_bore")
        share = 1 - inputs.setting_number("gasket.under_rod") / 100
        inside = max(1, to_micrometre(rod * share))
    thickness = inputs.length("thickness")
    given = thickness is not None
    if thickness is None:
        thickness = inputs.setting_length("gasket.packing_thickness")
    return WantedWasher(
        mode=WasherMode.PACKING,
        outside_nanometres=outside,
        inside_nanometres=inside,
        thickness_nanometres=thickness,
        thickness_given=given,
        stack=_stack_of(inputs, thickness),
    )


def _stack_of(inputs: Inputs, thickness: int) -> Stack | None:
    """Return the stack that fills the cavity, standing over it by no more than the setting."""
    depth = inputs.length("seat_depth")
    if depth is None or not thickness:
        return None
    most = depth * (1 + inputs.setting_number("gasket.packing_crush_most") / 100)
    count = -(-depth // thickness)
    if count * thickness > most:
        count = max(1, count - 1)
    height = count * thickness
    return Stack(count, height, height - depth)


def _flat_of(inputs: Inputs) -> WantedWasher:
    """Return a flat washer that lies in a seat, or a disc where nothing goes through."""
    bore = needed(inputs, "bore", "The bore of the seat")
    rod = inputs.length("rod")
    outside = bore - inputs.setting_length("gasket.washer_clearance")
    if outside <= 0:
        raise ImpossibleInput(
            ("bore", f"A seat of {millimetres_text(bore)} leaves nothing for a washer.")
        )
    inside = None
    if rod is not None:
        _check_rod(rod, bore)
        inside = rod + inputs.setting_length("gasket.washer_hole_over")
        if inside >= outside:
            raise ImpossibleInput(
                (
                    "rod",
                    (
                        f"Between a rod of {millimetres_text(rod)} and a seat of "
                        f"{millimetres_text(bore)} nothing is left for a washer."
                    ),
                )
            )
    thickness, given = _flat_thickness(inputs)
    return WantedWasher(WasherMode.WASHER, outside, inside, thickness, given)


def _flat_thickness(inputs: Inputs) -> tuple[int | None, bool]:
    """Return how thick a flat washer is, and whether that was given.

    Squeezed by the setting it is as thick as its seat is deep: depth / (1 - squeeze).
    """
    given = inputs.length("thickness")
    depth = inputs.length("seat_depth")
    if given is not None:
        return given, True
    if depth is None:
        return None, False
    squeeze = inputs.setting_number("gasket.seat_squeeze") / 100
    return to_micrometre(Fraction(depth) / (1 - squeeze)), False


def _head_of(inputs: Inputs) -> WantedWasher:
    """Return the head washer: a hair over its backing washer."""
    backing = needed(inputs, "backing_washer", "The backing washer")
    bore = inputs.length("barrel_bore")
    if bore is not None and backing >= bore:
        raise ImpossibleInput(
            (
                "backing_washer",
                (
                    f"A backing washer of {millimetres_text(backing)} does not slide in a bore of "
                    f"{millimetres_text(bore)}."
                ),
            )
        )
    stem = inputs.length("head_stem")
    name = "backing_washer" if stem is None else "head_stem"
    if stem is None:
        stem = inputs.setting_length("gasket.head_stem")
    if stem >= backing:
        raise ImpossibleInput(
            (
                name,
                (
                    f"A stem of {millimetres_text(stem)} does not go through a backing washer of "
                    f"{millimetres_text(backing)}."
                ),
            )
        )
    inside = stem - inputs.setting_length("gasket.hole_under")
    _check_hole(inside, name, stem)
    thickness = inputs.length("thickness")
    given = thickness is not None
    if thickness is None:
        thickness = inputs.setting_length("gasket.head_thickness")
    return WantedWasher(
        mode=WasherMode.HEAD_WASHER,
        outside_nanometres=backing + inputs.setting_length("gasket.head_over_backing"),
        inside_nanometres=inside,
        thickness_nanometres=thickness,
        thickness_given=given,
        stem_nanometres=stem,
    )


def _known_of(inputs: Inputs) -> WantedWasher:
    """Return the washer whose size was given; it needs a sheet to be cut from."""
    outside = needed(inputs, "outside_diameter", "The outside diameter")
    inside = inputs.length("inside_diameter")
    if inside is not None and inside >= outside:
        raise ImpossibleInput(
            (
                "inside_diameter",
                (
                    f"{millimetres_text(inside)} inside is no less than "
                    f"{millimetres_text(outside)} outside: are the two swapped?"
                ),
            )
        )
    needed(inputs, "sheet_length", "The length of the sheet")
    needed(inputs, "sheet_width", "The width of the sheet")
    thickness = inputs.length("thickness")
    return WantedWasher(WasherMode.SHEET, outside, inside, thickness, thickness is not None)


def _check_rod(rod: int, bore: int) -> None:
    """Refuse a rod that fills its bore."""
    if rod >= bore:
        raise ImpossibleInput(
            (
                "rod",
                (
                    f"A rod of {millimetres_text(rod)} does not go through a bore of "
                    f"{millimetres_text(bore)}: are the two swapped?"
                ),
            )
        )


def _check_hole(inside: int, name: str, through: int) -> None:
    """Refuse a hole of nothing."""
    if inside <= 0:
        raise ImpossibleInput(
            (
                name,
                f"Cut under what goes through it, {millimetres_text(through)}, no hole is left.",
            )
        )
