"""What a job lacks once the pieces are shared out, and who has what it could have had."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sparewell.jobs.tables import Need
from sparewell.plans.pooling import Table
from sparewell.plans.sharing import Movable, Share, used_by_jobs
from sparewell.plans.wanting import Sized, Wanting


@dataclass(frozen=True)
class Short:
    """So many pieces that a need lacks, why, and the jobs that what would do is for."""

    sized: Sized
    pieces: int
    why: str
    wanted_by: tuple[str, ...] = ()

    @property
    def need(self) -> Need:
        """The need that lacks them."""
        return self.sized.need


class Leftovers:
    """What is left of each lot once the pieces are shared out, and which jobs have the rest."""

    def __init__(self, table: Table, share: Share) -> None:
        self._table, self._share = table, share
        self._capacity = table.workshop.capacity
        self._used = used_by_jobs(table.workshop, share)
        self._everybody = Counter[int]()
        self._holders: dict[int, list[int]] = defaultdict(list)
        for job, of_job in self._used.items():
            self._everybody.update(of_job)
            for lot in of_job:
                self._holders[lot].append(job)
        self._promised: dict[int, list[Movable]] = defaultdict(list)
        for each in table.workshop.movable:
            self._promised[each.job].append(each)

    def shorts_of(self, wanted: Wanting) -> Sequence[Short]:
        """Return what a job lacks in the way in which it lacks least."""
        ways = range(len(self._table.ways[wanted.job.id]))
        found = [list(self._in_one_way(wanted, way)) for way in ways]
        return min(found, key=lambda shorts: sum(each.pieces for each in shorts), default=[])

    def _in_one_way(self, wanted: Wanting, way: int) -> Iterator[Short]:
        job, taken = wanted.job.id, Counter[int]()
        for each in self._promised[job]:
            taken[self._share.moves.get(each.reservation, each.lot)] += each.pieces
        for sized in self._table.ways[job][way].wants:
            lacking = sized.pieces
            options = self._table.candidates[job, way, sized.need.id]
            for lot in options:
                pieces = max(0, min(lacking, self._left_for(job, lot) - taken[lot]))
                lacking -= pieces
                taken[lot] += pieces
            if lacking:
                others = {other for lot in options for other in self._holders[lot]} - {job}
                jobs = tuple(self._table.wantings[other].job.number for other in sorted(others))
                yield Short(sized, lacking, _why(sized, jobs, has_options=bool(options)), jobs)

    def _left_for(self, job: int, lot: int) -> int:
        """Return how many pieces of a lot no other job has."""
        own = self._used[job][lot] if job in self._used else 0
        return self._capacity.get(lot, 0) - self._everybody[lot] + own


def _why(sized: Sized, jobs: Sequence[str], *, has_options: bool) -> str:
    if jobs:
        return f"what would fit is for {', '.join(jobs)}"
    if has_options:
        return f"fewer in hand than the {sized.pieces} that are wanted"
    return "nothing in hand fits that may be taken unasked"
