"""A small plot of how many pieces there were, week by week, against the threshold. Reckons only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

WEEKS = 26
WIDTH, HEIGHT = 320, 90
_LEFT, _TOP, _BOTTOM = 26, 8, 16
_SECONDS_OF_A_WEEK = 7 * 24 * 3600


@dataclass(frozen=True)
class StockChange:
    """Pieces that came or went at a moment."""

    at: datetime
    pieces: int


def weekly(now: datetime, in_hand: int, changes: Iterable[StockChange]) -> list[int]:
    """Return what was in hand at the end of each of the last weeks, this moment last.

    Reckoned backwards from what is in hand; the changes are those since the first of the weeks.
    """
    stock = [in_hand] * (WEEKS + 1)
    for change in changes:
        weeks_ago = int((now - change.at).total_seconds() // _SECONDS_OF_A_WEEK)
        for place in range(max(0, WEEKS - weeks_ago)):
            stock[place] -= change.pieces
    return stock


def drawn(stock: Sequence[int], threshold: int | None, called: str) -> Markup:
    """Return the plot as an SVG: a step for each week, and the threshold as a broken line."""
    most = max(*stock, threshold or 0, 1)
    across = (WIDTH - _LEFT - 4) / (len(stock) - 1)
    high = HEIGHT - _TOP - _BOTTOM

    def up(pieces: int) -> float:
        return round(_TOP + high * (1 - max(0, pieces) / most), 1)

    steps = f"M{_LEFT} {up(stock[0])}" + "".join(
        f"H{round(_LEFT + across * place, 1)}V{up(pieces)}" for place, pieces in enumerate(stock)
    )
    parts = [
        Markup('<svg class="plot" viewBox="0 0 {} {}" role="img" aria-label="{}">').format(
            WIDTH, HEIGHT, _said(stock, threshold, called)
        ),
        Markup('<path d="M{} {}H{}" fill="none" stroke="currentColor" stroke-width="1"/>').format(
            _LEFT, up(0), WIDTH - 4
        ),
        Markup('<path d="{}" fill="none" stroke="currentColor" stroke-width="2"/>').format(steps),
    ]
    if threshold is not None and threshold >= 0:
        parts.append(
            Markup(
                '<path class="threshold" d="M{} {}H{}" fill="none" stroke-dasharray="5 4"/>'
            ).format(_LEFT, up(threshold), WIDTH - 4)
        )
    text = Markup('<text x="{}" y="{}" font-size="11" fill="currentColor"{}>{}</text>')
    parts += [
        text.format(2, up(most) + 4, "", most),
        text.format(2, up(0) + 3, "", 0),
        text.format(_LEFT, HEIGHT - 3, "", "half a year ago"),
        text.format(WIDTH - 4, HEIGHT - 3, Markup(' text-anchor="end"'), "today"),
        Markup("</svg>"),
    ]
    return Markup("").join(parts)


def _said(stock: Sequence[int], threshold: int | None, called: str) -> str:
    """Say the plot to whoever does not see it."""
    course = f"{called}: {stock[0]} half a year ago, {stock[-1]} now, {min(stock)} at the least"
    return course if threshold is None else f"{course}; to be ordered at {threshold}"
