"""Forecasts for parts that are mostly not wanted at all: Croston, SBA and TSB.

Croston (1972) smooths the sizes of the wishes and the periods between them apart; Syntetos and
Boylan (2005) take the known bias off; Teunter, Syntetos and Babai (2011) smooth, instead of the
intervals, the chance that a period wants anything, so that the forecast sinks while nobody asks.

The start matters more than the method, so it is said: sizes start at the first size; intervals at
the first interval, counted from before the first period; the chance at whether the first period
wanted anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

START_UP_RULE = (
    "sizes start at the first size, intervals at the first interval counted from before the first "
    "period, the chance (TSB) at whether the first period wanted anything"
)


@dataclass(frozen=True)
class Forecast:
    """What one period is expected to want; `interval` or `chance` is what it was divided by."""

    per_period: float
    size: float
    interval: float | None = None
    chance: float | None = None


def croston(history: Sequence[int], alpha: float) -> Forecast:
    """Return Croston's forecast; nothing was ever wanted: nothing is expected."""
    size = interval = 0.0
    waited = 0
    for wanted in history:
        waited += 1
        if wanted == 0:
            continue
        is_first = interval == 0
        size = float(wanted) if is_first else size + alpha * (wanted - size)
        interval = float(waited) if is_first else interval + alpha * (waited - interval)
        waited = 0
    return Forecast(size / interval if interval else 0.0, size, interval or None)


def sba(history: Sequence[int], alpha: float) -> Forecast:
    """Return Croston's forecast with its bias taken off, times 1 - alpha / 2."""
    biased = croston(history, alpha)
    return Forecast(biased.per_period * (1 - alpha / 2), biased.size, biased.interval)


def tsb(history: Sequence[int], alpha: float, beta: float) -> Forecast:
    """Return the forecast whose chance sinks with each period that wants nothing.

    `alpha` smooths the sizes, `beta` the chance.
    """
    sizes = [wanted for wanted in history if wanted]
    if not sizes:
        return Forecast(0.0, 0.0, chance=0.0)
    size, chance = float(sizes[0]), float(history[0] > 0)
    for wanted in history[1:]:
        chance += beta * ((wanted > 0) - chance)
        if wanted:
            size += alpha * (wanted - size)
    return Forecast(size * chance, size, chance=chance)
