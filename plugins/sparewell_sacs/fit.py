"""Which sacs in hand would do: the box to search in, and the verdict on each piece found.

The box is as wide as any verdict but a refusal: its upper bound is what the barrel takes at its
mouth (or what was tried in), its lower bound the hole below which every sac is stretched too far.
So a thick-walled, a necked or a tapered sac is found as well as a plain one. The lot is the
fact: its own dimensions decide, whatever its packet says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from sparewell.plugin import (
    NANOMETRES_PER_64TH,
    Advice,
    Envelope,
    Inputs,
    Judgement,
    Piece,
    Price,
    Range,
    Verdict,
    millimetres_text,
    percent_text,
    rounded,
    worked_out_once,
)
from sparewell_sacs.in_short import advice_of, price_of_piece
from sparewell_sacs.kind import KIND
from sparewell_sacs.lengths import lengths_of
from sparewell_sacs.limits import HALF, SizingOutcome, diameter_nanometres, over_nipple_nanometres
from sparewell_sacs.notices import CHECK_BARREL
from sparewell_sacs.pieces import KnownSac, UnknowableSacError, known_sac
from sparewell_sacs.purchases import purchases_of
from sparewell_sacs.sizing import Sizing, sizing_of
from sparewell_sacs.stretch import Grip, grip_of, stretch_of_diameter, stretch_percent
from sparewell_sacs.wording import size_text

_VERDICTS: Final = {
    Grip.FALLS_OFF: Verdict.REFUSED,
    Grip.LOOSE: Verdict.LOOSE,
    Grip.MARGINAL: Verdict.LOOSE,
    Grip.GOOD: Verdict.FITS,
    Grip.ACCEPTABLE: Verdict.FITS,
    Grip.STIFF: Verdict.TIGHT,
    Grip.TIGHT: Verdict.TIGHT,
    Grip.REFUSED: Verdict.REFUSED,
}

# Added to the preference of a shaped sac, which is far more than any size can be off.
_SHAPED_LAST: Final = 1_000

# What is said of a piece; it is written when somebody reads it.
_Sentence = Callable[[], str]

_GRIP_WORDS: Final = {
    Grip.FALLS_OFF: "it is wider than the nipple and needs a sleeve first",
    Grip.LOOSE: "it slides on and needs a sleeve or a whipping",
    Grip.MARGINAL: "a marginal grip",
    Grip.GOOD: "a good grip",
    Grip.ACCEPTABLE: "high, but latex bears it",
    Grip.TIGHT: "tight",
    Grip.REFUSED: "more than is safe",
}


def envelope(inputs: Inputs) -> Envelope:
    """Return the box to search in, and what to buy where nothing is in hand."""
    sizing = sizing_of(inputs)
    high_nanometres = _mouth_takes(inputs, sizing)
    most_stretch = 1 + inputs.setting_number("sac.stretch_refused") / 100
    least_inside_nanometres = ceil(sizing.readings.nipple_nanometres / most_stretch)
    return Envelope(
        kind=KIND,
        ideal=sizing.ideal_nanometres,
        ranges={
            "outside_diameter": Range(
                low=min(least_inside_nanometres, high_nanometres), high=high_nanometres
            )
        },
        to_buy=purchases_of(inputs, sizing, least_inside_nanometres),
    )


def advise(inputs: Inputs) -> Advice:
    """Return the answer in short; what to look for is what would be bought."""
    first = next(iter(envelope(inputs).to_buy), None)
    return advice_of(inputs, sizing_of(inputs), first.ask_for if first else None)


def judge(inputs: Inputs, piece: Piece) -> Judgement:
    """Return the verdict on one piece; the first sentences of `why` are the reasons against."""
    if piece.kind != KIND:
        return Judgement(Verdict.REFUSED, f"a {piece.kind} is not a sac")
    sizing = sizing_of(inputs)
    try:
        sac = known_sac(piece, sizing.walls)
    except UnknowableSacError as unknowable:
        return Judgement(Verdict.REFUSED, str(unknowable))
    percent = stretch_percent(sizing.readings.nipple_nanometres, sac.inside_nanometres)
    grip = grip_of(inputs, percent, sac.material)
    verdict = _VERDICTS[grip]
    margins = _margins(inputs, sizing, sac, percent)
    against = list(_against(inputs, sizing, sac, margins))
    if verdict is Verdict.REFUSED:
        against.append(lambda: _stretch_words(sizing, sac, grip, percent))
    if against:
        return Judgement(Verdict.REFUSED, lambda: _written(against), margins)
    doubts = list(_doubts(inputs, sizing, sac, margins))
    if doubts and verdict is Verdict.FITS:
        verdict = Verdict.TRY_IN
    halves = _halves_off(sizing, sac)
    return Judgement(
        verdict,
        lambda: _written(
            (
                lambda: _room_words(sizing, sac, margins),
                lambda: _stretch_words(sizing, sac, grip, percent),
                *doubts,
                *_remarks(inputs, sac, margins),
            )
        ),
        margins,
        _preference(sac, halves),
        is_recommended=not sac.is_shaped and halves == 0,
        is_taken_unasked=not sac.is_shaped,
    )


def _written(sentences: Iterable[_Sentence]) -> str:
    return "; ".join(sentence() for sentence in sentences)


def price(inputs: Inputs, piece: Piece) -> Price:
    """Return what one piece costs beside the size recommended."""
    sizing = sizing_of(inputs)
    try:
        sac = known_sac(piece, sizing.walls)
    except UnknowableSacError:
        return Price()
    return price_of_piece(inputs, sizing, sac)


def _preference(sac: KnownSac, halves: int) -> int:
    """Return how far the piece is from the size recommended: by halves, a smaller one first.

    So age decides among bags of one size, and a shaped sac is kept for a pen that needs its shape.
    """
    return 2 * abs(halves) + (halves > 0) + _SHAPED_LAST * sac.is_shaped


def _halves_off(sizing: Sizing, sac: KnownSac) -> int:
    """Return by how many half sizes the piece is larger than the size recommended."""
    return int(_halves_of(sac) - sizing.recommended_halves)


def _halves_of(sac: KnownSac) -> int:
    """Return the half size that the piece is nearest to, in halves, whatever its packet says."""
    # It is never as near to two of them, since a 64th is an odd number of nanometres.
    return (4 * sac.outside_nanometres + NANOMETRES_PER_64TH) // (2 * NANOMETRES_PER_64TH)


def _tried_takes(inputs: Inputs, tried: Fraction) -> int:
    """Return the widest piece that counts as the size tried in."""
    slack = inputs.setting_number("sac.try_in_slack_sizes")
    return floor(diameter_nanometres(tried) + slack * NANOMETRES_PER_64TH)


def _mouth_takes(inputs: Inputs, sizing: Sizing) -> int:
    """Return the widest sac that goes in at the mouth."""
    if sizing.tried is not None:
        return _tried_takes(inputs, sizing.tried)
    return sizing.readings.mouth_room_nanometres


def _takes(inputs: Inputs, sizing: Sizing, sac: KnownSac) -> int:
    """Return the widest that this sac may be: a tapered one need only pass the mouth."""
    if sac.tip_nanometres is not None or sizing.tried is not None:
        return _mouth_takes(inputs, sizing)
    return sizing.readings.room_nanometres


def _margins(
    inputs: Inputs, sizing: Sizing, sac: KnownSac, percent: Fraction | None
) -> dict[str, int | Decimal]:
    """Return the room left in every direction; less than nothing is in the way."""
    readings = sizing.readings
    margins: dict[str, int | Decimal] = {
        "barrel": _takes(inputs, sizing, sac) - sac.outside_nanometres,
        "over_nipple": readings.bore.mouth_nanometres - _over_nipple(sizing, sac),
    }
    tail_room_nanometres = readings.tail_room_nanometres
    if sac.tip_nanometres is not None and tail_room_nanometres is not None:
        margins["tip"] = tail_room_nanometres - sac.tip_nanometres
    cut_nanometres = lengths_of(inputs).cut_nanometres
    if cut_nanometres is not None and sac.length_nanometres is not None:
        margins["length"] = sac.length_nanometres - cut_nanometres
    if percent is not None:
        margins["stretch_percent"] = rounded(percent, 1)
    return margins


def _over_nipple(sizing: Sizing, sac: KnownSac) -> int:
    """Return what the piece measures over the nipple, its wall stretched."""
    return over_nipple_nanometres(
        nipple_nanometres=sizing.readings.nipple_nanometres,
        outside_nanometres=sac.over_nipple_nanometres,
        inside_nanometres=sac.inside_nanometres,
    )


def _against(
    inputs: Inputs, sizing: Sizing, sac: KnownSac, margins: Mapping[str, int | Decimal]
) -> Iterator[_Sentence]:
    """Yield every reason to refuse the piece but its stretch."""
    barrel = margins["barrel"]
    if barrel < 0:
        yield lambda: f"{_millimetres(-barrel)} too wide {_where(sizing)}"
    if margins.get("tip", 0) < 0:
        yield lambda: f"its tip is {_millimetres(-margins['tip'])} too wide for the tail"
    if margins["over_nipple"] <= 0:
        yield (
            lambda: (
                f"over the nipple it measures {millimetres_text(_over_nipple(sizing, sac))} and "
                "does not enter a bore of "
                f"{millimetres_text(sizing.readings.bore.mouth_nanometres)}"
            )
        )
    short = -margins.get("length", 0)
    if short > inputs.setting_length("sac.short_allowed"):
        yield lambda: f"{_millimetres(short)} too short"
    if (
        sac.material == "silicone"
        and sizing.readings.bore.in_guard
        and inputs.setting_flag("sac.refuse_silicone_in_guard")
    ):
        yield (
            lambda: "silicone is too stiff inside a guard; a person may override this with a reason"
        )


def _doubts(
    inputs: Inputs, sizing: Sizing, sac: KnownSac, margins: Mapping[str, int | Decimal]
) -> Iterator[_Sentence]:
    """Yield what makes a fitting piece one to try in first."""
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
        yield lambda: f"check the barrel first: {CHECK_BARREL}"
    if (
        sac.material is None
        and sizing.readings.bore.in_guard
        and inputs.setting_flag("sac.refuse_silicone_in_guard")
    ):
        yield lambda: "its material is unknown, and silicone is too stiff inside a guard"
    spread_nanometres = _room_spread_nanometres(inputs)
    if sizing.tried is None and margins["barrel"] < spread_nanometres:
        below = (_halves_of(sac) - 1) * HALF
        yield (
            lambda: (
                "that is less than the readings may be off "
                f"({millimetres_text(spread_nanometres)}): dry-fit it; if it is pinched take the "
                f"{size_text(below)}"
            )
        )
    over_nanometres = _over_nipple_spread_nanometres(inputs)
    if margins["over_nipple"] < over_nanometres:
        yield (
            lambda: (
                f"over the nipple only {_millimetres(margins['over_nipple'])} are to spare, less "
                f"than the readings may be off ({millimetres_text(over_nanometres)}): dry-fit it"
            )
        )


@worked_out_once
def _over_nipple_spread_nanometres(inputs: Inputs) -> int:
    """Return how far the room over the nipple may be off: by the bore and by the nipple."""
    bore = sizing_of(inputs).readings.bore
    unsaid_nanometres = inputs.setting_length("sac.reading_uncertainty")
    return sum(
        unsaid_nanometres if spread is None else spread
        for spread in (inputs.spread(bore.name), inputs.spread("nipple_diameter"))
    )


@worked_out_once
def _room_spread_nanometres(inputs: Inputs) -> int:
    """Return how far the room may be off: by the bore, and by the bar as often as it counts."""
    readings = sizing_of(inputs).readings
    bore, bar = readings.bore, readings.bar
    bore_nanometres = inputs.spread(bore.governing_name)
    if bore_nanometres is None:
        bore_nanometres = inputs.setting_length("sac.reading_uncertainty")
    if not bar.times:
        return bore_nanometres
    bar_nanometres = inputs.spread(bar.reading)
    if bar_nanometres is None:
        bar_nanometres = inputs.setting_length("sac.bar_uncertainty")
    return bore_nanometres + bar.times * bar_nanometres


def _remarks(
    inputs: Inputs, sac: KnownSac, margins: Mapping[str, int | Decimal]
) -> Iterator[_Sentence]:
    """Yield what is worth knowing and changes no verdict."""
    if sac.is_shaped:
        yield lambda: "a necked or tapered sac: keep it for a pen that needs its shape"
    length = margins.get("length")
    if length is not None and length < 0:
        yield lambda: f"{_millimetres(-length)} shorter than it could be, so it holds less"
    asked_for = inputs.text("material")
    if asked_for is not None and asked_for != sac.material:
        yield lambda: f"{asked_for} was asked for, and this is {sac.material or 'unknown'}"


def _where(sizing: Sizing) -> str:
    """Return what a sac that is too wide is too wide for."""
    if sizing.tried is not None:
        return "beside the size that was tried in"
    if sizing.readings.bore.in_guard:
        return "for the guard"
    return "for the barrel with the bar in place" if sizing.readings.bar.times else "for the barrel"


def _room_words(sizing: Sizing, sac: KnownSac, margins: Mapping[str, int | Decimal]) -> str:
    """Return the room beside the sac in words."""
    room = margins["barrel"]
    if sizing.tried is not None:
        place = "under the size that was tried in"
    elif sizing.readings.bore.in_guard:
        place = "to spare in the guard"
    else:
        place = "to spare in the barrel"
    return f"{millimetres_text(sac.outside_nanometres)} outside leaves {_millimetres(room)} {place}"


def _stretch_words(sizing: Sizing, sac: KnownSac, grip: Grip, percent: Fraction | None) -> str:
    """Return the stretch in words, with its band where the wall is assumed."""
    inside_text = f"{millimetres_text(sac.inside_nanometres)} inside"
    stretched = "" if percent is None else percent_text(percent)
    if sac.assumed_walls is not None:
        how = "wall as given" if sac.assumed_walls.given else "wall assumed"
        inside_text = f"about {inside_text} ({how})"
        band = stretch_of_diameter(
            sizing.readings.nipple_nanometres, sac.over_nipple_nanometres, sac.assumed_walls
        )
        if band.least is not None and band.most is not None and band.least != band.most:
            stretched += f" ({percent_text(band.least)} to {percent_text(band.most)})"
    if grip is Grip.STIFF:
        words = (
            "tight, its material being unknown and so counted as silicone"
            if sac.material is None
            else f"tight for {sac.material}"
        )
    else:
        words = _GRIP_WORDS[grip]
    return f"{inside_text} is stretched {stretched} over the nipple: {words}"


def _millimetres(nanometres: int | Decimal) -> str:
    """Return a margin in millimetres."""
    return millimetres_text(Fraction(nanometres))
