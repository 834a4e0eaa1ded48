"""What is said of a lot that cannot well be true, or that its owner should know: never a refusal.

One function for everybody: the answers of the API, and so the pages, and an import's report.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from sparewell.catalogue.operations import improbable_dimensions, unfamiliar_material
from sparewell.extend.declarations import PartKind
from sparewell.extend.values import wide_spread
from sparewell.lots.ageing import FitBy
from sparewell.lots.claims import claimed
from sparewell.lots.conditions import LOOK_FIRST, Condition
from sparewell.lots.tables import Lot
from sparewell.measure.length import length_text

_SIZES_APART: Final = 2


def doubts_of(kind: PartKind | None, lot: Lot, age: FitBy) -> list[str]:
    """Return a warning for each thing about a lot that is improbable or has to be known."""
    known = lot.dimensions
    return [
        *improbable_dimensions(kind, known),
        *unfamiliar_material(kind, lot.material),
        *_of_label(kind, lot, known),
        *_of_age(lot, age),
        *_of_spreads(lot),
        *([LOOK_FIRST[Condition.UNCHECKED]] if lot.condition == Condition.UNCHECKED else []),
    ]


def _of_label(kind: PartKind | None, lot: Lot, known: Mapping[str, int]) -> Iterator[str]:
    """Yield that a lot measures two sizes or more off what its packet or its part says."""
    if kind is None or kind.size_step is None or kind.led_by not in lot.measured:
        return
    measured = known[kind.led_by]
    part = lot.part.dimensions if lot.part is not None else {}
    said = {
        f"its packet ({lot.label})": claimed(kind, lot.label).get(kind.led_by),
        f"its part ({lot.part.number if lot.part else ''})": part.get(kind.led_by),
    }
    for who, value in said.items():
        if value is not None and abs(measured - value) >= _SIZES_APART * kind.size_step:
            yield (
                f"it measures {length_text(measured)}, and {who} says {length_text(value)}: two "
                "sizes or more apart; measure again, or is it another bag?"
            )


def _of_age(lot: Lot, age: FitBy) -> Iterator[str]:
    """Yield that rubber was over age already on the day it came."""
    if age.counted_from == "made_on" and age.is_past(lot.arrived_at.date()):
        yield (
            f"made {lot.made_on}, it was over age already when it came: {lot.material} should have "
            f"been fitted by {age.day}"
        )


def _of_spreads(lot: Lot) -> Iterator[str]:
    """Yield each spread that leaves little of its reading."""
    for name, how in lot.measured_how.items():
        doubt = wide_spread(
            name.replace("_", " "), lot.dimensions.get(name, 0), how.get("spread_nanometres")
        )
        if doubt is not None and name in lot.dimensions:
            yield doubt
