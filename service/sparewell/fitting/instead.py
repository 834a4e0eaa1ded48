"""One piece instead of another: what there is to choose from, and whether it fits no worse.

A promise may move to another piece without anybody being asked only where nothing gets worse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cached_property

from sparewell.extend.calculation import Run
from sparewell.fitting import at_hand
from sparewell.fitting.judging import MEASURED, ORDER, Candidate, Judge, rank
from sparewell.fitting.operations import HIGHEST_LIMIT, free_pieces
from sparewell.lots.tables import Lot
from sparewell.work import Work


class Choice:
    """What may be taken unasked for one need: what is free, and what others are promised."""

    def __init__(self, work: Work, run: Run, job: str) -> None:
        self._work, self._run, self._job = work, run, job
        self._judge = Judge(work, run)

    @cached_property
    def free(self) -> Sequence[Candidate]:
        """Return the pieces that are free, the best first."""
        found = free_pieces(self._work, self._run, limit=HIGHEST_LIMIT, for_job=self._job)
        return [each for each in found if each.is_taken_by_itself]

    @cached_property
    def promised(self) -> Sequence[Candidate]:
        """Return the pieces of which some are promised, the best first."""
        envelope = self._run.envelope()
        lots = at_hand.with_promises(self._work.session, envelope.kind, envelope.ranges)
        judged = [self._judge.judge(lot) for lot in lots]
        return sorted((each for each in judged if each.is_taken_by_itself), key=rank)

    def of(self, lot: Lot) -> Candidate:
        """Return what is said of one piece, however near it is."""
        reach = at_hand.reach(self._work.session, [lot])
        return replace(self._judge.judge(lot), reach=reach.get(lot.id, 0))


def is_no_worse(instead: Candidate, of: Candidate, day: date) -> bool:
    """Whether a piece fits no worse than another in anything that ranks them, on a day."""
    return all(
        mine <= other
        for mine, other in zip(_standing(instead, day), _standing(of, day), strict=True)
    )


def _standing(found: Candidate, day: date) -> tuple[int, ...]:
    """Return what ranks a piece, each the less the better; none makes up for another."""
    return (
        found.material_rank,
        ORDER[found.verdict],
        int(found.basis != MEASURED),
        found.preference,
        found.reach,
        int(found.fit_by.is_past(day)),
    )
