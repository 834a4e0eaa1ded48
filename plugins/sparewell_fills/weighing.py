"""A weighed fill beside what was expected, and how far apart they must be to mean anything."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import isqrt

from sparewell.plugin import ImpossibleInput, Inputs
from sparewell_fills.filling import ExpectedFill

_ROOT_DIGITS = 10**12


class WeighingVerdict(StrEnum):
    """How the weighed fill lies beside the expected range."""

    EXPECTED = "as_expected"
    INSIDE_ERROR = "inside_error"
    LOW = "low"
    HIGH = "high"


@dataclass(frozen=True)
class WeighedFill:
    """Millilitres: the fill, its error, the range it is held against, and how far outside it is."""

    millilitres: Fraction
    error: Fraction
    low: Fraction
    high: Fraction
    is_dry: bool

    @property
    def difference(self) -> Fraction:
        """How far outside the range: less than nothing is below it."""
        if self.millilitres < self.low:
            return self.millilitres - self.low
        return max(self.millilitres - self.high, Fraction(0))

    @property
    def verdict(self) -> WeighingVerdict:
        """What the difference means: nothing, while it is not larger than the error."""
        if not self.difference:
            return WeighingVerdict.EXPECTED
        if abs(self.difference) <= self.error:
            return WeighingVerdict.INSIDE_ERROR
        return WeighingVerdict.LOW if self.difference < 0 else WeighingVerdict.HIGH


def weighed_of(inputs: Inputs, expected: ExpectedFill) -> WeighedFill | None:
    """Return the weighed fill, or None where none was given. Raises ImpossibleInput."""
    millilitres = _millilitres(inputs)
    if millilitres is None:
        return None
    is_dry = inputs.text("weighed_from") == "dry"
    feed_low = inputs.setting_number("fill.feed_low") if is_dry else Fraction(0)
    feed_high = inputs.setting_number("fill.feed_high") if is_dry else Fraction(0)
    return WeighedFill(
        millilitres=millilitres,
        error=_error(inputs),
        low=expected.low + min(feed_low, feed_high),
        high=expected.high + max(feed_low, feed_high),
        is_dry=is_dry,
    )


def _millilitres(inputs: Inputs) -> Fraction | None:
    """Return the fill in millilitres, given or from its grams."""
    given, grams = inputs.number("weighed_ml"), inputs.number("water_grams")
    if grams is None:
        return given
    if given is not None:
        raise ImpossibleInput(("water_grams", "give either this or weighed_ml, not both"))
    return grams / inputs.setting_number("fill.water_density")


def _error(inputs: Inputs) -> Fraction:
    """Return the error of the mean, to 12 decimals and never too small."""
    one = inputs.number("weighing_error_ml")
    if one is None:
        one = inputs.setting_number("fill.weighing_error")
    fills = int(inputs.number("fills_averaged") or 1)
    return one / Fraction(isqrt(fills * _ROOT_DIGITS**2), _ROOT_DIGITS)
