"""How long pieces held: of those that were heard of so late, how many failed within some months."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sparewell.learned.fitted import Fitted
from sparewell.learned.tallies import FEWEST_TO_SAY
from sparewell.learned.wilson import Proportion, wilson

# Ends of the bands in months; the last has none.
_ENDS: Final = (0, 1, 3, 6, 12, 24, 60)


@dataclass(frozen=True)
class MonthSpan:
    """Some months after fitting: how many were heard of then or later, and how many failed."""

    since: int
    until: int | None
    heard: int
    failed: int

    @property
    def share(self) -> Proportion | None:
        """The share of those that failed in these months; nothing is said of few."""
        return wilson(self.failed, self.heard) if self.heard >= FEWEST_TO_SAY else None


@dataclass(frozen=True)
class KindOverMonths:
    """One kind of piece, month by month."""

    kind: str
    spans: Sequence[MonthSpan]


def over_months(some: Iterable[Fitted]) -> list[KindOverMonths]:
    """Return each kind of which something was heard, over the months since it was fitted."""
    by_kind: dict[str, list[Fitted]] = {}
    for each in some:
        if each.months is not None:
            by_kind.setdefault(each.kind, []).append(each)
    return [KindOverMonths(kind, _spans(heard)) for kind, heard in sorted(by_kind.items())]


def _spans(heard: Sequence[Fitted]) -> list[MonthSpan]:
    return [
        _span(heard, since, until) for since, until in zip(_ENDS, [*_ENDS[1:], None], strict=True)
    ]


def _span(heard: Sequence[Fitted], since: int, until: int | None) -> MonthSpan:
    reached = [each for each in heard if (each.months or 0) >= since]
    failed = [
        each
        for each in reached
        if each.has_failed and (until is None or (each.months or 0) < until)
    ]
    return MonthSpan(since, until, len(reached), len(failed))
