"""What a calculator's margins are held against once it is known how the pieces turned out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class MarginScale:
    """Between which settings one margin of a calculator does well.

    `marks` are the settings at which its bands end, `low` and `high` those of them between which
    pieces are expected to do well; without one of the two that side is open. It counts for pieces
    of these `materials`, where any are named; for needs that give the calculator the inputs in
    `given`; and while the settings in `while_set` have those values.
    """

    margin: str
    marks: tuple[str, ...]
    low: str | None = None
    high: str | None = None
    materials: tuple[str, ...] = ()
    given: Mapping[str, str] = field(default_factory=dict)
    while_set: Mapping[str, str] = field(default_factory=dict)
