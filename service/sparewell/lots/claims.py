"""What is known of a lot's pieces: measured on them, following from that, or only claimed.

Of an O-ring two dimensions give the third; what follows from measured ones counts as measured. The
number on a packet is a claim, like the part's own dimensions, and stands behind them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Final

from sparewell.extend.declarations import PartKind
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength, MeasuredLength

# A dimension, the two that it follows from, and what is done with them.
_FOLLOWS: Final = {
    "cross_section": ("outside_diameter", "inside_diameter"),
    "inside_diameter": ("outside_diameter", "cross_section"),
}


def derived(kind: PartKind | None, measured: Mapping[str, int]) -> dict[str, int]:
    """Return the dimension of a ring that follows from two measured ones, in nanometres."""
    if kind is None or "cross_section" not in {each.name for each in kind.dimensions}:
        return {}
    found = {}
    for name in _following(measured):
        if name == "cross_section":
            value = (measured["outside_diameter"] - measured["inside_diameter"]) // 2
        else:
            value = measured["outside_diameter"] - 2 * measured["cross_section"]
        if value > 0:
            found[name] = value
    return found


def _following(measured: Collection[str]) -> list[str]:
    """Return which dimensions follow from those that were measured."""
    return [
        name
        for name, (outer, other) in _FOLLOWS.items()
        if name not in measured and outer in measured and other in measured
    ]


def basis(lot: Lot) -> dict[str, str]:
    """Say of each known dimension whether it was measured on the lot or is nominal."""
    measured = {*lot.measured, *_following(lot.measured)}
    return {name: "measured" if name in measured else "nominal" for name in lot.dimensions}


def spreads(lot: Lot) -> dict[str, int]:
    """Return how far what was measured may be off, in nanometres, of all of which it is known."""
    found = {
        name: int(how["spread_nanometres"])
        for name, how in lot.measured_how.items()
        if how.get("spread_nanometres") is not None
    }
    for name in _following(lot.measured) if found else ():
        outer, other = (found.get(source) for source in _FOLLOWS[name])
        if outer is not None and other is not None:
            halved = -((outer + other) // -2)  # half a nanometre more rather than less
            found[name] = halved if name == "cross_section" else outer + 2 * other
    return found


def how_measured(length: EnteredLength) -> dict[str, object]:
    """Return what is kept of how a dimension was measured; nothing where nothing was said."""
    if not isinstance(length, MeasuredLength):
        return {}
    how: dict[str, object] = {}
    if length.spread is not None:
        how["spread"] = length.spread.text
        how["spread_nanometres"] = length.spread.nanometres
    if length.instrument is not None:
        how["instrument"] = length.instrument
    return how


def claimed(kind: PartKind | None, label: str | None) -> dict[str, int]:
    """Return the dimensions that the number on a packet stands for, in nanometres."""
    if kind is None or kind.read_label is None or not label:
        return {}
    named = {each.name for each in kind.dimensions} & DIMENSIONS.keys()
    read = kind.read_label(label)
    return {name: value for name, value in read.items() if name in named and value > 0}
