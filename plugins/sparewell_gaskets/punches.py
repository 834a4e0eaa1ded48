"""The punches of the workshop, and the published head washers: the nearest to a diameter."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from sparewell.plugin import NANOMETRES_PER_64TH, Inputs, Verdict
from sparewell_gaskets.bands import FitBand, inside_band, outside_band
from sparewell_gaskets.settings import KNOWN_HEADS_64THS
from sparewell_gaskets.sizing import WantedWasher


@dataclass(frozen=True)
class NearestPunch:
    """A diameter that exists, and how much larger it is than the one wanted (nanometres)."""

    nanometres: int
    difference_nanometres: int
    is_near_enough: bool


def nearest(
    wanted_nanometres: int, owned: Iterable[int], *, near_enough: Callable[[int], bool]
) -> NearestPunch | None:
    """Return the nearest diameter that is near enough, else the nearest; None of an empty list.

    Of two equally near the smaller goes first. What is a little too small may leak where what is
    a little too large seals, so the nearest is not always the one to take.
    """
    found = min(
        owned,
        key=lambda each: (not near_enough(each), abs(each - wanted_nanometres), each),
        default=None,
    )
    return None if found is None else _near(found, wanted_nanometres, near_enough)


def _near(found: int, wanted_nanometres: int, near_enough: Callable[[int], bool]) -> NearestPunch:
    return NearestPunch(found, found - wanted_nanometres, is_near_enough=near_enough(found))


def outside_will_do(inputs: Inputs, washer: WantedWasher) -> Callable[[int], bool]:
    """Return the test of a punch for the outside: near, and what it cuts would fit."""
    return _will_do(inputs, washer.outside_nanometres, outside_band(inputs, washer))


def hole_will_do(inputs: Inputs, washer: WantedWasher) -> Callable[[int], bool]:
    """Return the test of a punch for the hole."""
    return _will_do(inputs, washer.inside_nanometres or 0, inside_band(inputs, washer))


def _will_do(inputs: Inputs, wanted: int, band: FitBand | None) -> Callable[[int], bool]:
    tolerance = inputs.setting_length("gasket.punch_tolerance")

    def test(nanometres: int) -> bool:
        fits = band is None or band.verdict(nanometres)[0] is Verdict.FITS
        return fits and abs(nanometres - wanted) <= tolerance

    return test


def known_head(wanted_nanometres: int, *, near_enough: Callable[[int], bool]) -> NearestPunch:
    """Return the nearest of the published head washers."""
    known = (parts * NANOMETRES_PER_64TH for parts in KNOWN_HEADS_64THS)
    found = min(known, key=lambda each: (abs(each - wanted_nanometres), each))
    return _near(found, wanted_nanometres, near_enough)
