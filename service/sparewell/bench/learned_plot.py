"""A plot of the share that failed in each band, with its interval. Reckons only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from sparewell.learned.wilson import Proportion

WIDTH, ROW = 320, 24
_LEFT, _RIGHT, _TOP, _BOTTOM = 104, 10, 6, 18
_TICKS = (0, 50, 100)
_EARLY = 0.25
_TEXT = Markup('<text x="{}" y="{}" font-size="11" fill="currentColor"{}>{}</text>')
_IN_THE_MIDDLE = Markup(' text-anchor="middle"')


@dataclass(frozen=True)
class PlottedBand:
    """What a band is called, and the share that failed in it, where that can be said."""

    label: str
    heard: int
    share: Proportion | None


def drawn(bands: Sequence[PlottedBand], expected: float, called: str) -> Markup:
    """Return the plot as an SVG: a dot and its interval for each band, what is expected broken."""
    below = _TOP + ROW * len(bands)
    parts = [
        Markup('<svg class="plot" viewBox="0 0 {} {}" role="img" aria-label="{}">').format(
            WIDTH, below + _BOTTOM, _said(bands, called)
        ),
        Markup('<path d="M{} {}H{}" fill="none" stroke="currentColor"/>').format(
            _LEFT, below, across(1)
        ),
        Markup('<path class="threshold" d="M{} {}V{}" fill="none" stroke-dasharray="5 4"/>').format(
            across(expected), _TOP, below
        ),
    ]
    for place, band in enumerate(bands):
        parts += _row(band, _TOP + ROW * place + ROW // 2, expected)
    parts += [
        _TEXT.format(across(tick / 100), below + 14, _IN_THE_MIDDLE, f"{tick} %") for tick in _TICKS
    ]
    return Markup("").join([*parts, Markup("</svg>")])


def across(share: float) -> float:
    """Return where a share lies, from the left."""
    return round(_LEFT + share * (WIDTH - _LEFT - _RIGHT - 8), 1)


def _row(band: PlottedBand, middle: int, expected: float) -> list[Markup]:
    label = _TEXT.format(2, middle + 4, "", band.label)
    if band.share is None:
        said = f"{band.heard} heard of, too few to say" if band.heard else "nothing heard of"
        left = across(expected if expected < _EARLY else 0) + 6  # clear of the broken line
        return [label, _TEXT.format(left, middle + 4, "", said)]
    low, at, high = (across(end) for end in (band.share.low, band.share.observed, band.share.high))
    return [
        label,
        Markup('<path d="M{} {}H{}" fill="none" stroke="currentColor" stroke-width="2"/>').format(
            low, middle, high
        ),
        Markup('<circle cx="{}" cy="{}" r="4" fill="currentColor"/>').format(at, middle),
    ]


def _said(bands: Sequence[PlottedBand], called: str) -> str:
    """Say the plot to whoever does not see it."""
    told = [
        f"{band.label}: {100 * band.share.observed:.0f} % failed" for band in bands if band.share
    ]
    return f"{called}: {'; '.join(told) or 'too little was heard of'}"
