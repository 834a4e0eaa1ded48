"""The punches of the workshop, and the published head washers: the nearest to a diameter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sparewell.plugin import NANOMETRES_PER_64TH
from sparewell_gaskets.settings import KNOWN_HEADS_64THS


@dataclass(frozen=True)
class Near:
    """A diameter that exists, and how much larger it is than the one wanted (nanometres)."""

    nanometres: int
    difference_nanometres: int


def nearest(wanted_nanometres: int, owned: Iterable[int]) -> Near | None:
    """Return the nearest diameter of a list, of two equally near the smaller; None of nothing."""
    found = min(owned, key=lambda each: (abs(each - wanted_nanometres), each), default=None)
    return None if found is None else Near(found, found - wanted_nanometres)


def known_head(wanted_nanometres: int) -> Near:
    """Return the nearest of the published head washers."""
    found = nearest(wanted_nanometres, (parts * NANOMETRES_PER_64TH for parts in KNOWN_HEADS_64THS))
    if found is None:
        raise AssertionError("the published head washers are three")
    return found
