"""Counting what was fitted: how many, of how many it was heard, how many failed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from typing import Final, TypeVar

from sparewell.learned.fitted import Fitted
from sparewell.learned.wilson import Proportion, wilson
from sparewell.outcomes.tables import TurnedOut

FEWEST_TO_SAY: Final = 10
_LATER_MONTHS: Final = 1
_Key = TypeVar("_Key", bound=Hashable)


@dataclass
class OutcomeTally:
    """So many promises of which pieces were fitted, and what was heard of them."""

    fitted: int = 0
    heard: int = 0
    heard_later: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)

    def count(self, each: Fitted) -> None:
        """Count one promise."""
        self.fitted += 1
        if each.outcome is None:
            return
        self.heard += 1
        self.heard_later += each.months is not None and each.months >= _LATER_MONTHS
        self.outcomes[each.outcome] += 1

    @property
    def failed(self) -> int:
        """How many turned out otherwise than well."""
        return self.heard - self.outcomes[TurnedOut.GOOD]

    @property
    def unknown(self) -> int:
        """Of how many nobody has said anything."""
        return self.fitted - self.heard

    @property
    def share(self) -> Proportion | None:
        """The share that failed; nothing is said of few."""
        return wilson(self.failed, self.heard) if self.heard >= FEWEST_TO_SAY else None

    @property
    def says(self) -> str:
        """The same in a sentence."""
        said = f"{self.fitted} fitted, {self.heard} heard of, {self.failed} failed"
        if self.unknown:
            said += f"; {self.unknown} unknown"
        share = self.share
        if share is None:
            return said
        return f"{said}: {share_text(share)}"


def percent(share: float) -> float:
    """Return a share in percent, to a tenth."""
    return round(100 * share, 1)


def share_text(share: Proportion) -> str:
    """Return a share with its interval as a sentence has it."""
    observed, low, high = (f"{percent(end):g}" for end in (share.observed, share.low, share.high))
    return f"{observed} % (95 %: {low} to {high} %)"


def summed(some: Iterable[OutcomeTally]) -> OutcomeTally:
    """Return what several tallies count together."""
    found = OutcomeTally()
    for each in some:
        found.fitted += each.fitted
        found.heard += each.heard
        found.heard_later += each.heard_later
        found.outcomes += each.outcomes
    return found


def by(some: Iterable[Fitted], key: Callable[[Fitted], _Key]) -> dict[_Key, OutcomeTally]:
    """Count promises by what a function says of each."""
    found: dict[_Key, OutcomeTally] = {}
    for each in some:
        found.setdefault(key(each), OutcomeTally()).count(each)
    return found
