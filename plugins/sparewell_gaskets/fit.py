"""Which washers in hand would do: the box to search in, and the verdict on each piece found.

The outside decides which bags are looked at; the hole and the thickness, where they are known,
decide with it. A hole that is not known makes a piece one to try in. Cork that is too large can be
turned down, so it is looked at further up.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from sparewell.plugin import (
    Envelope,
    Inputs,
    Judgement,
    Making,
    Piece,
    Purchase,
    Range,
    Verdict,
    millimetres_text,
)
from sparewell_gaskets.bands import FitBand, inside_band, outside_band, thickness_band
from sparewell_gaskets.cutting import cutting_of
from sparewell_gaskets.inputs import WasherMode
from sparewell_gaskets.kind import KIND
from sparewell_gaskets.layout import SheetToCut, square_layout, staggered_layout
from sparewell_gaskets.sizing import WantedWasher, washer_of

# What is further from fitting comes later: the worst of a piece's dimensions decides.
_SEVERITY: Final = (Verdict.FITS, Verdict.TRY_IN, Verdict.TIGHT, Verdict.LOOSE, Verdict.REFUSED)
_TENTH: Final = 100_000
_TO_BE_WORKED: Final = 100

Finding = tuple[Verdict, str]


def envelope(inputs: Inputs) -> Envelope:
    """Return the box to search in, and what to buy where nothing is in hand."""
    washer = washer_of(inputs)
    cutting_of(inputs, washer)  # a sheet that cannot be is refused here too
    band = outside_band(inputs, washer)
    high = max(band.most, _turned_from(inputs, washer))
    return Envelope(
        kind=KIND,
        ideal=washer.outside_nanometres,
        ranges={"outside_diameter": Range(low=max(1, band.least), high=high)},
        to_buy=(_purchase(inputs, washer, band),),
    )


def judge(inputs: Inputs, piece: Piece) -> Judgement:
    """Return the verdict on one piece; the worst of its dimensions decides."""
    if piece.kind != KIND:
        return Judgement(Verdict.REFUSED, f"a {piece.kind} is not a gasket")
    washer = washer_of(inputs)
    outside = piece.dimensions.get("outside_diameter")
    if outside is None:
        return Judgement(Verdict.REFUSED, "no outside diameter is known: measure the bag")
    inside = piece.dimensions.get("inside_diameter")
    if inside is not None and inside >= outside:
        return Judgement(
            Verdict.REFUSED,
            f"{millimetres_text(inside)} inside is no less than {millimetres_text(outside)} "
            "outside: measure again",
        )
    findings = [
        *_of_outside(inputs, washer, outside, piece.material),
        *_of_inside(inputs, washer, inside),
        *_of_thickness(inputs, washer, piece.dimensions.get("thickness")),
        *_of_material(inputs, washer, piece.material),
    ]
    verdict = max((verdict for verdict, _ in findings), key=_SEVERITY.index)
    against = [words for found, words in findings if found is verdict]
    if verdict is Verdict.REFUSED:
        return Judgement(verdict, "; ".join(against), _margins(washer, piece))
    words = [words for _, words in findings]
    asked_for = inputs.text("material")
    if asked_for is not None and asked_for != piece.material:
        words.append(f"{asked_for} was asked for, and this is {piece.material or 'unknown'}")
    return Judgement(
        verdict,
        "; ".join(words),
        _margins(washer, piece),
        _preference(inputs, washer, piece, asked_for),
    )


def _margins(washer: WantedWasher, piece: Piece) -> dict[str, int | Decimal]:
    """Return how much larger than wanted each known dimension is; less is negative."""
    wanted = {
        "outside_diameter": washer.outside_nanometres,
        "inside_diameter": washer.inside_nanometres,
        "thickness": washer.thickness_nanometres,
    }
    return {
        name: piece.dimensions[name] - nanometres
        for name, nanometres in wanted.items()
        if nanometres is not None and name in piece.dimensions
    }


def _preference(inputs: Inputs, washer: WantedWasher, piece: Piece, asked_for: str | None) -> int:
    """Return how far the outside is from what is wanted, in tenths of a millimetre.

    A piece of another material than was asked for, or one that has to be turned down, comes last.
    """
    off = abs(piece.dimensions["outside_diameter"] - washer.outside_nanometres)
    other = asked_for is not None and asked_for != piece.material
    turned = piece.dimensions["outside_diameter"] > outside_band(inputs, washer).most
    return min(off // _TENTH, _TO_BE_WORKED) + _TO_BE_WORKED * other + 2 * _TO_BE_WORKED * turned


def _of_outside(
    inputs: Inputs, washer: WantedWasher, outside: int, material: str | None
) -> Iterator[Finding]:
    """Yield what is found of the outside diameter."""
    band = outside_band(inputs, washer)
    verdict, words = band.verdict(outside)
    shown = f"{millimetres_text(outside)} outside"
    if verdict is Verdict.REFUSED and outside > band.most and material == "cork":
        down = millimetres_text(outside - washer.outside_nanometres)
        if outside <= _turned_from(inputs, washer):
            yield Verdict.TIGHT, f"{shown}: turn the cork down by {down}"
            return
        words = f"{down} are too much to turn off"
    wanted = millimetres_text(washer.outside_nanometres)
    yield verdict, f"{shown} {words}" if words else f"{shown} where {wanted} are wanted"


def _of_inside(inputs: Inputs, washer: WantedWasher, inside: int | None) -> Iterator[Finding]:
    """Yield what is found of the hole."""
    band = inside_band(inputs, washer)
    if band is None:
        if inside is not None:
            yield Verdict.REFUSED, "it has a hole, and a disc is wanted"
        return
    wanted = millimetres_text(washer.inside_nanometres or 0)
    if inside is None:
        yield Verdict.TRY_IN, f"its hole is not known: measure it, or punch {wanted}"
        return
    verdict, words = band.verdict(inside)
    shown = f"its hole of {millimetres_text(inside)}"
    yield verdict, f"{shown} {words}" if words else f"{shown} suits"


def _of_thickness(inputs: Inputs, washer: WantedWasher, thickness: int | None) -> Iterator[Finding]:
    """Yield what is found of the thickness."""
    band = thickness_band(inputs, washer)
    if band is None:
        return
    if thickness is None:
        yield Verdict.TRY_IN, "its thickness is not known"
        return
    verdict, words = band.verdict(thickness)
    shown = f"{millimetres_text(thickness)} thick"
    yield verdict, f"{shown} {words}" if words else shown


def _of_material(inputs: Inputs, washer: WantedWasher, material: str | None) -> Iterator[Finding]:
    """Yield what the material forbids, or leaves in doubt."""
    if washer.mode is not WasherMode.PACKING or not inputs.setting_flag(
        "gasket.refuse_silicone_on_rod"
    ):
        return
    if material == "silicone":
        yield (
            Verdict.REFUSED,
            "silicone tears round a moving rod; a person may override this with a reason",
        )


def _turned_from(inputs: Inputs, washer: WantedWasher) -> int:
    """Return the largest cork that may be turned down; only what lies in a bore is of cork."""
    if washer.mode is not WasherMode.PACKING:
        return 0
    return washer.outside_nanometres + inputs.setting_length("gasket.cork_turn_down")


def _purchase(inputs: Inputs, washer: WantedWasher, band: FitBand) -> Purchase:
    """Return what to ask for: the washer, or the sheet to punch it from."""
    material = inputs.text("material") or "rubber"
    thick = ""
    if washer.thickness_nanometres is not None:
        thick = f", {millimetres_text(washer.thickness_nanometres)} thick"
    hole = ""
    if washer.inside_nanometres is not None:
        hole = f", hole {millimetres_text(washer.inside_nanometres)}"
    cut_from = "a stopper to turn it from" if material == "cork" else "sheet to punch it from"
    return Purchase(
        ask_for=(
            f"a {material} washer {millimetres_text(washer.outside_nanometres)} outside{hole}"
            f"{thick}; or {cut_from}"
        ),
        check_on_arrival=(
            f"outside {millimetres_text(max(1, band.low))} to {millimetres_text(band.high)}, "
            "measured without squashing it; the hole on a stepped pin; and the material by its "
            "packet, since black rubbers look alike"
        ),
    )


def make(inputs: Inputs, piece: Piece) -> Making | None:
    """Return how many washers a sheet gives; None for one of another thickness or a bad material.

    A sheet of which a side or the thickness is not known gives nothing that could be counted on.
    """
    length, width = piece.dimensions.get("length"), piece.dimensions.get("width")
    thickness = piece.dimensions.get("thickness")
    if length is None or width is None or thickness is None:
        return None
    washer = washer_of(inputs)
    found = [
        *_of_thickness(inputs, washer, thickness),
        *_of_material(inputs, washer, piece.material),
    ]
    if any(verdict is Verdict.REFUSED for verdict, _ in found):
        return None
    sheet = SheetToCut(
        length,
        width,
        inputs.setting_length("gasket.spacing"),
        inputs.setting_length("gasket.sheet_edge"),
    )
    layouts = (
        square_layout(sheet, washer.outside_nanometres),
        staggered_layout(sheet, washer.outside_nanometres),
    )
    count = max(layout.count for layout in layouts)
    hole = washer.inside_nanometres
    says = f"{millimetres_text(washer.outside_nanometres)} outside" + (
        f", {millimetres_text(hole)} inside" if hole else ""
    )
    return Making(count, says) if count > 0 else None
