"""What a job lacks once the pieces are shared out, and who has what it could have had."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sparewell.jobs.tables import Need
from sparewell.plans.pooling import Table
from sparewell.plans.sharing import Share, used_by_jobs
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


def shorts_of(table: Table, share: Share, wanted: Wanting) -> Sequence[Short]:
    """Return what a job lacks in the way in which it lacks least."""
    job = wanted.job.id
    used = used_by_jobs(table.workshop, share)
    mine = used.get(job, Counter[int]())
    everybody = Counter[int]()
    for of_job in used.values():
        everybody.update(of_job)
    left = {
        lot: pieces - everybody[lot] + mine[lot] for lot, pieces in table.workshop.capacity.items()
    }
    for each in table.workshop.movable:
        if each.job == job:
            left[share.moves.get(each.reservation, each.lot)] -= each.pieces
    holders = {lot: [other for other in used if other != job and used[other][lot]] for lot in left}
    found = [
        list(_in_one_way(table, wanted, way, dict(left), holders))
        for way in range(len(table.ways[job]))
    ]
    return min(found, key=lambda shorts: sum(each.pieces for each in shorts), default=[])


def _in_one_way(
    table: Table,
    wanted: Wanting,
    way: int,
    left: dict[int, int],
    holders: dict[int, list[int]],
) -> Iterator[Short]:
    job = wanted.job.id
    for sized in table.ways[job][way].wants:
        lacking = sized.pieces
        options = table.candidates[job, way, sized.need.id]
        for lot in options:
            pieces = max(0, min(lacking, left.get(lot, 0)))
            lacking -= pieces
            left[lot] = left.get(lot, 0) - pieces
        if lacking:
            others = sorted({other for lot in options for other in holders.get(lot, ())})
            jobs = tuple(table.wantings[other].job.number for other in others)
            yield Short(sized, lacking, _why(sized, jobs, has_options=bool(options)), jobs)


def _why(sized: Sized, jobs: Sequence[str], *, has_options: bool) -> str:
    if jobs:
        return f"what would fit is for {', '.join(jobs)}"
    if has_options:
        return f"fewer in hand than the {sized.pieces} that are wanted"
    return "nothing in hand fits that may be taken unasked"
