"""The answer in short, for the plan of a job: what to look for, what else would do, at what price.

A price is held against the whole size of the answer, as its capacity is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Final

from sparewell.plugin import (
    Advice,
    Inputs,
    MeasureAgain,
    Price,
    Substitute,
    cylinder_millilitres,
    rounded,
)
from sparewell_sacs.advice import also_possible_of, alternatives_of, substitutes_of
from sparewell_sacs.lengths import lengths_of
from sparewell_sacs.limits import SizingOutcome, diameter_nanometres
from sparewell_sacs.notices import CHECK_BARREL
from sparewell_sacs.pieces import KnownSac
from sparewell_sacs.sensitivity import sensitivity_of
from sparewell_sacs.sizing import Sizing
from sparewell_sacs.stretch import stretch_percent
from sparewell_sacs.wording import a_size_text, size_text

# What is done to the barrel or to the readings is no other sac.
_SUBSTITUTING: Final = {
    "sleeve_the_nipple": "a ring on the nipple, then a straight sac",
    "necked_sac": "a necked sac, body",
    "whip_with_thread": "a whipping of thread over a sac",
    "tapered_sac": "a tapered sac",
}


def advice_of(inputs: Inputs, sizing: Sizing, ask_for: str | None) -> Advice:
    """Return the answer in short; `ask_for` is what would be bought, if anything would."""
    return Advice(
        look_for=_look_for(sizing, ask_for),
        limited_by=sizing.limited_by.value,
        outcome=sizing.outcome.value,
        substitutes=tuple(_substitutes(inputs, sizing)),
        measure_again=tuple(
            MeasureAgain(str(entry["reading"]), str(entry["why"]))
            for entry in sorted(
                sensitivity_of(inputs, sizing), key=lambda entry: -_moved(sizing, entry)
            )
            if entry["moves"]
        ),
    )


def price_of_piece(inputs: Inputs, sizing: Sizing, sac: KnownSac) -> Price:
    """Return what a piece costs beside the size recommended; a shorter one holds less too."""
    percent = stretch_percent(sizing.readings.nipple_nanometres, sac.inside_nanometres)
    room_nanometres = lengths_of(inputs).for_volume_nanometres
    length_nanometres = room_nanometres
    if room_nanometres is not None and sac.length_nanometres is not None:
        length_nanometres = min(room_nanometres, sac.length_nanometres)
    return _price(sizing, sac.inside_nanometres, percent, room_nanometres, length_nanometres)


def _look_for(sizing: Sizing, ask_for: str | None) -> str:
    if sizing.outcome is SizingOutcome.CHECK_BARREL:
        return f"no sac yet: {CHECK_BARREL}"
    return ask_for or f"{a_size_text(sizing.recommended)}, smaller than any that is sold"


def _substitutes(inputs: Inputs, sizing: Sizing) -> Iterator[Substitute]:
    length_nanometres = lengths_of(inputs).for_volume_nanometres
    for entry in (*substitutes_of(inputs, sizing), *also_possible_of(inputs, sizing)):
        size = Fraction(str(entry["size"]))
        inside = diameter_nanometres(size) - 2 * sizing.walls.nominal_nanometres
        percent = Fraction(str(entry["stretch_percent"]))
        price = _price(sizing, inside, percent, length_nanometres, length_nanometres)
        yield Substitute(f"sac no. {size_text(size)}", str(entry["why"]), price)
    for entry in alternatives_of(inputs, sizing):
        words = _SUBSTITUTING.get(str(entry["do"]))
        if words is not None:
            size = Fraction(str(entry["size"]))
            yield Substitute(f"{words} no. {size_text(size)}", str(entry["why"]))


def _price(
    sizing: Sizing,
    inside_nanometres: Fraction | int,
    percent: Fraction | None,
    room_nanometres: int | None,
    length_nanometres: int | None,
) -> Price:
    walls_nanometres = 2 * sizing.walls.nominal_nanometres
    best_nanometres = diameter_nanometres(sizing.size) - walls_nanometres
    less_ml = less_percent = None
    if best_nanometres > 0:
        share = (Fraction(inside_nanometres) / best_nanometres) ** 2
        if room_nanometres is not None and length_nanometres is not None:
            share *= Fraction(length_nanometres, room_nanometres)
            best_ml = cylinder_millilitres(best_nanometres, room_nanometres)
            less_ml = rounded(best_ml * (1 - share), 2)
        less_percent = rounded(100 * (1 - share), 0)
    stretch = None if percent is None else rounded(percent, 1)
    return Price(less_ml, less_percent, stretch)


def _moved(sizing: Sizing, entry: Mapping[str, object]) -> Fraction:
    """Return by how many sizes an error of a reading moves the answer at most."""
    answers = [entry[way] for way in ("less", "more")]
    sizes = [
        Fraction(Decimal(str(answer["half_size"])))
        for answer in answers
        if isinstance(answer, Mapping)
    ]
    return max((abs(size - sizing.half_size) for size in sizes), default=Fraction(0))
