"""The size ruler: to scale along a dimension, what is free above the edge, what was used below it.

Only reckons; the template draws what stands here. Knows no HTTP.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

WIDTH: Final = 340
MARGIN: Final = 14
EDGE_ABOVE: Final = 86
EDGE_BELOW: Final = 106
BAR_HIGHEST: Final = 62
HEIGHT: Final = 192
_BAR_WIDEST, _BAR_NARROWEST = 18.0, 3.0
_BAR_LOWEST = 2.5
_GAP = 2.0
# Figures that stand nearer than this would lie over each other.
_FIGURE_WIDTH = 15.0
_MOST_TICKS = 9
_STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100)
_HUNDREDTHS = 100


@dataclass(frozen=True)
class SizeBar:
    """One size: how many are free and how many were used, and where it stands."""

    millimetres: float
    x: float
    free: int
    used: int
    free_height: float
    used_height: float
    says_free: bool
    says_used: bool


@dataclass(frozen=True)
class Ruler:
    """Everything that is drawn."""

    bars: list[SizeBar]
    bar_width: float
    ticks: list[tuple[float, str]]
    small_ticks: list[float]
    window: tuple[float, float] | None


def ruler(
    free: Mapping[float, int], used: Mapping[float, int], window: tuple[float, float] | None
) -> Ruler | None:
    """Return the ruler over sizes in millimetres; None where there is nothing to show."""
    have, gone = _by_hundredth(free), _by_hundredth(used)
    sizes = sorted({size for size in have.keys() | gone.keys() if have[size] or gone[size]})
    if not sizes:
        return None
    step = _step(sizes[-1] - sizes[0])
    low = math.floor(sizes[0] / step - 0.5) * step
    high = math.ceil(sizes[-1] / step + 0.5) * step
    scale = (WIDTH - 2 * MARGIN) / (high - low)
    places = [round(MARGIN + (size - low) * scale, 2) for size in sizes]
    narrowest = min((right - left for left, right in pairwise(places)), default=WIDTH)
    width = min(_BAR_WIDEST, max(_BAR_NARROWEST, narrowest - _GAP))
    most = max([*have.values(), *gone.values()])
    says_free = _numbered({place: have[size] for size, place in zip(sizes, places, strict=True)})
    says_used = _numbered({place: gone[size] for size, place in zip(sizes, places, strict=True)})
    bars = [
        SizeBar(
            size,
            place,
            have[size],
            gone[size],
            _height(have[size], most),
            _height(gone[size], most),
            says_free=place in says_free,
            says_used=place in says_used,
        )
        for size, place in zip(sizes, places, strict=True)
    ]
    count = round((high - low) / step)
    values = [low + index * step for index in range(count + 1)]
    return Ruler(
        bars=bars,
        bar_width=round(width, 2),
        ticks=[(round(MARGIN + (each - low) * scale, 2), f"{each:.10g}") for each in values],
        small_ticks=[
            round(MARGIN + index * step / 10 * scale, 2)
            for index in range(count * 10 + 1)
            if index % 10
        ],
        window=_window(window, low, high, scale),
    )


def _by_hundredth(counts: Mapping[float, int]) -> Counter[float]:
    """Return counts by hundredths of a millimetre: finer than a caliper is one size."""
    found: Counter[float] = Counter()
    for size, count in counts.items():
        found[round(size * _HUNDREDTHS) / _HUNDREDTHS] += count
    return found


def _height(count: int, most: int) -> float:
    """Return how high a bar is; a single piece beside many is still seen."""
    return round(max(count / most * BAR_HIGHEST, _BAR_LOWEST), 2) if count else 0.0


def _numbered(heights: Mapping[float, int]) -> set[float]:
    """Return the places whose figures are written: the highest first, none over another."""
    chosen: set[float] = set()
    counted = [place for place, height in heights.items() if height]
    for place in sorted(counted, key=lambda place: (-heights[place], place)):
        if all(abs(place - other) >= _FIGURE_WIDTH for other in chosen):
            chosen.add(place)
    return chosen


def _step(span: float) -> float:
    """Return how far apart the long ticks stand, in millimetres."""
    return next((step for step in _STEPS if span / step < _MOST_TICKS - 2), _STEPS[-1])


def _window(
    window: tuple[float, float] | None, low: float, high: float, scale: float
) -> tuple[float, float] | None:
    """Return where the sizes looked for lie, as a start and a width."""
    if window is None:
        return None
    start, end = max(window[0], low), min(window[1], high)
    if start > end:
        return None
    return round(MARGIN + (start - low) * scale, 2), round((end - start) * scale, 2)
