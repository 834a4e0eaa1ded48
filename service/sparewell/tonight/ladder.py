"""The ladder of an order, as plain numbers: what the next amount spent finishes.

Rung after rung, the job is taken that costs least more; whoever then costs nothing more stands on
the same rung, since packs hold more than one pen wants, and postage is paid once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

Wanted = Mapping[int, int]  # pieces by part


@dataclass(frozen=True)
class Rung:
    """The next amount, the jobs that it finishes, and what everything costs up to here."""

    cost: int
    jobs: tuple[int, ...]
    total: int


def together(wanted: Mapping[int, Wanted], jobs: Sequence[int]) -> Counter[int]:
    """Return how many pieces of each part some jobs want together."""
    pieces: Counter[int] = Counter()
    for job in jobs:
        pieces.update(wanted[job])
    return pieces


def ladder(
    wanted: Mapping[int, Wanted],
    roughly: Callable[[Wanted], int],
    exactly: Callable[[Wanted], int],
) -> list[Rung]:
    """Return the rungs; `roughly` says what an order costs and is asked often, `exactly` seldom."""
    rungs: list[Rung] = []
    taken: list[int] = []
    left = sorted(wanted)
    total = 0
    while left:
        costs = {job: roughly(together(wanted, [*taken, job])) for job in left}
        rung = [min(left, key=lambda job: (costs[job], job))]
        for job in left:
            before = together(wanted, [*taken, *rung])
            if job not in rung and roughly(before + together(wanted, [job])) <= roughly(before):
                rung.append(job)
        taken += rung
        left = [job for job in left if job not in rung]
        now = max(total, exactly(together(wanted, taken)))
        rungs.append(Rung(now - total, tuple(sorted(rung)), now))
        total = now
    return rungs
