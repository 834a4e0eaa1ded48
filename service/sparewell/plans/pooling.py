"""All wants and all pieces on one table: what jobs lack, and every lot that would do for it.

From here on it is a question in plain numbers (`plans/sharing.py`). A want knows no more lots than
it can come to need, so that the question stays small in a workshop of many.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import lazyload

from sparewell.errors import Broken, Impossible
from sparewell.fitting.in_hand import Asked
from sparewell.fitting.instead import is_no_worse
from sparewell.fitting.judging import Candidate, age_rank, fit_rank
from sparewell.jobs.inputs import run_for
from sparewell.jobs.tables import ApprovalState
from sparewell.lots.fixed import inside
from sparewell.lots.tables import Lot
from sparewell.plans.chains import Moving
from sparewell.plans.sharing import Asking, Movable, Option, Want, Weight, Workshop
from sparewell.plans.wanting import Sized, Sizer, Wanting
from sparewell.plans.ways import Pool, Way, ways_of
from sparewell.reservations.settling import may_move
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

_TIMES_CUT_DOWN = 3


@dataclass(frozen=True)
class Terms:
    """How jobs are weighed, how many minutes there are, and whose promises may move."""

    weight: Weight = Weight.PROMISED
    minutes: int | None = None
    moving: Moving = Moving.MINE


@dataclass
class Table:
    """Everything on one table, and what its numbers stand for."""

    workshop: Workshop
    wantings: Mapping[int, Wanting]
    ways: Mapping[int, Sequence[Way]]
    candidates: Mapping[tuple[int, int, int], Mapping[int, Candidate]]
    moving: Mapping[int, tuple[Reservation, Mapping[int, Candidate]]]
    lots: Mapping[int, Lot]


def laid_out(
    work: Work,
    wantings: Sequence[Wanting],
    sizer: Sizer,
    terms: Terms,
    minutes: Mapping[int, int],
    finishing: Collection[int] | None = None,
) -> Table:
    """Put everything on one table; `minutes` are those that each job takes by hand.

    Where jobs are named under `finishing`, all others wait.
    """
    promises = _promises(work, wantings, terms.moving)
    lots = [lot for _, lot in promises]
    pool = Pool(work, lots)
    by_job = {each.job.id: each for each in wantings}
    pool.look_up(each.asked for wanting in wantings for each in (wanting.settling or wanting.sized))
    ways = {each.job.id: list(ways_of(work, each, sizer, pool)) for each in wantings}
    moving = list(_moving(work, promises, by_job, sizer))
    pool.look_up(
        [
            *(sized.asked for each in ways.values() for way in each for sized in way.wants),
            *(asked for *_, asked in moving),
        ]
    )
    return _Layer(work, by_job, ways, moving, pool, terms, minutes, finishing).table()


def _promises(
    work: Work, wantings: Sequence[Wanting], moving: Moving
) -> list[tuple[Reservation, Lot]]:
    """Return the promises that may move: held, nothing fetched, and not kept to their pieces."""
    if moving is Moving.NONE:
        return []
    statement = (
        select(Reservation, Lot)
        .join(Lot, Lot.id == Reservation.lot_id)
        .where(
            Reservation.job_id.in_([each.job.id for each in wantings]),
            Reservation.promised > 0,
            Reservation.need_id.is_not(None),
            Lot.donor_id.is_(None),
        )
        .options(lazyload("*"))
        .order_by(Reservation.id)
    )
    return [
        (row, lot)
        for row, lot in work.session.execute(statement)
        if may_move(row) and (moving is Moving.ANY or row.person == work.actor.person)
    ]


def _moving(
    work: Work,
    promises: Iterable[tuple[Reservation, Lot]],
    wantings: Mapping[int, Wanting],
    sizer: Sizer,
) -> Iterator[tuple[Reservation, Lot, Asked]]:
    """Yield the promises that could take other pieces, and what these would be asked.

    A bar stands as it is promised, and so does what is judged beside a bar still to be chosen.
    """
    for row, lot in promises:
        wanting = wantings[row.job_id]
        need = wanting.job.need(row.need_id)
        if need is None or not need.is_wanted or wanting.settling:
            continue
        try:
            run = run_for(work, wanting.job, need, wanting.settled)
            if run.calculator.settles is None:
                yield row, lot, sizer.asked(run)
        except (Impossible, Broken, KeyError):
            continue


@dataclass
class _Choices:
    """What one want, or one promise that may move, could take: the best first."""

    owner: int
    kind: str
    pieces: int
    found: list[Candidate]


def _cut_down(lines: Sequence[_Choices], capacity: Mapping[int, int]) -> None:
    """Leave each line no more lots than it can come to need.

    Once those that suit it best have as many pieces as all who could take any of them want, one of
    them is left for it, and nothing further back would be better.
    """
    for _ in range(_TIMES_CUT_DOWN):
        takers: dict[int, set[int]] = defaultdict(set)
        for line in lines:
            for candidate in line.found:
                takers[candidate.lot.id].add(line.owner)
        wanted = Counter[int]()
        for line in lines:
            wanted[line.owner] = max(wanted[line.owner], line.pieces)
        for line in lines:
            rivals: set[int] = set()
            demand = pieces = 0
            for place, candidate in enumerate(line.found, 1):
                pieces += capacity[candidate.lot.id]
                new = takers[candidate.lot.id] - rivals
                rivals |= new
                demand += sum(wanted[each] for each in new)
                if pieces >= demand:
                    del line.found[place:]
                    break


class _Layer:
    def __init__(
        self,
        work: Work,
        wantings: Mapping[int, Wanting],
        ways: Mapping[int, Sequence[Way]],
        moving: Sequence[tuple[Reservation, Lot, Asked]],
        pool: Pool,
        terms: Terms,
        minutes: Mapping[int, int],
        finishing: Collection[int] | None,
    ) -> None:
        self._finishing = finishing
        self._work, self._wantings, self._ways, self._pool = work, wantings, ways, pool
        self._moving, self._terms, self._minutes = moving, terms, minutes
        self._lots: dict[int, Lot] = {lot.id: lot for _, lot, _ in moving}
        self._candidates: dict[tuple[int, int, int], dict[int, Candidate]] = {}
        self._targets: dict[int, tuple[Reservation, dict[int, Candidate]]] = {}
        self._returning = Counter[int]()
        for row, lot, _ in moving:
            self._returning[lot.id] += row.promised
        self._lines = self._drawn()

    def _drawn(self) -> dict[tuple[int, ...], _Choices]:
        """Return the lines by what they are of: a job, its way and need; or a reservation."""
        lines: dict[tuple[int, ...], _Choices] = {}
        for job, ways in self._ways.items():
            for number, way in enumerate(ways):
                for sized in way.wants:
                    found = self._to_be_had(sized.asked)
                    key = (job, number, sized.need.id)
                    lines[key] = _Choices(sized.need.id, sized.need.kind, sized.pieces, found)
        for row, lot, asked in self._moving:
            own, day = asked.judge.judge(lot), self._day_of(row)
            found = [
                each
                for each in self._to_be_had(asked)
                if each.lot.id != lot.id and is_no_worse(each, own, day)
            ]
            lines[(row.id,)] = _Choices(-row.id, lot.kind, row.promised, found)
        capacity = {
            each.lot.id: self._capacity(each.lot) for line in lines.values() for each in line.found
        }
        _cut_down(list(lines.values()), capacity)
        for line in lines.values():
            self._lots |= {each.lot.id: each.lot for each in line.found}
        return lines

    def _capacity(self, lot: Lot) -> int:
        return lot.available + self._returning[lot.id]

    def _to_be_had(self, asked: Asked) -> list[Candidate]:
        return [each for each in self._pool.of(asked) if self._capacity(each.lot) > 0]

    def _day_of(self, row: Reservation) -> date:
        promised_on = self._wantings[row.job_id].job.promised_on
        return max(self._work.now.date(), promised_on or date.min)

    def table(self) -> Table:
        """Return the table."""
        askings = tuple(self._asking(wanting) for wanting in self._wantings.values())
        movable = tuple(self._movable(*each) for each in self._moving)
        return Table(
            Workshop(
                askings,
                {lot.id: lot.available for lot in self._lots.values()},
                movable,
                self._inside(),
                {lot.id: _size(self._work, lot) for lot in self._lots.values()},
                self._terms.minutes,
                self._terms.weight,
            ),
            self._wantings,
            self._ways,
            self._candidates,
            self._targets,
            self._lots,
        )

    def _asking(self, wanting: Wanting) -> Asking:
        job = wanting.job
        ways = tuple(
            tuple(self._want(job.id, number, sized) for sized in way.wants)
            for number, way in enumerate(self._ways[job.id])
        )
        approval = job.latest_approval
        is_agreed = approval is not None and approval.state == ApprovalState.APPROVED
        value = (job.estimate_minor if is_agreed else None) or job.value_as_restored_minor
        return Asking(
            job.id,
            ways,
            job.promised_on.toordinal() if job.promised_on else None,
            value or 0,
            self._minutes.get(job.id, 0),
            waits=bool(wanting.waits) or job.id not in (self._finishing or {job.id}),
        )

    def _want(self, job: int, way: int, sized: Sized) -> Want:
        found = self._lines[job, way, sized.need.id].found
        self._candidates[job, way, sized.need.id] = {each.lot.id: each for each in found}
        return Want(sized.need.id, sized.pieces, _options(found))

    def _movable(self, row: Reservation, lot: Lot, _asked: Asked) -> Movable:
        others = self._lines[(row.id,)].found
        self._targets[row.id] = (row, {each.lot.id: each for each in others})
        need = row.need_id or 0
        return Movable(row.id, row.job_id, need, lot.id, row.promised, _options(others))

    def _inside(self) -> dict[int, tuple[int, ...]]:
        """Return by lot what is fixed in it, and in that again."""
        of_donors = [lot.id for lot in self._lots.values() if lot.donor_id is not None]
        inner = inside(self._work.session, of_donors) if of_donors else []
        parents = {lot.id: lot.part_of_lot_id for lot in inner}
        found: dict[int, list[int]] = defaultdict(list)
        for lot in inner:
            self._lots.setdefault(lot.id, lot)
            parent = parents[lot.id]
            while parent is not None:
                found[parent].append(lot.id)
                parent = parents.get(parent)
        return {lot: tuple(its) for lot, its in found.items()}


def _options(found: Sequence[Candidate]) -> tuple[Option, ...]:
    fits = {each: place for place, each in enumerate(sorted({fit_rank(each) for each in found}))}
    ages = {each: place for place, each in enumerate(sorted({age_rank(each) for each in found}))}
    return tuple(Option(each.lot.id, fits[fit_rank(each)], ages[age_rank(each)]) for each in found)


def _size(work: Work, lot: Lot) -> str:
    """Return what makes two lots pieces of one size: their part, else what leads their kind."""
    if lot.part_id is not None:
        return f"part {lot.part_id}"
    return f"{lot.kind} {lot.dimensions.get(work.declared.kinds[lot.kind].led_by)}"
