"""What to order for the pens that wait for a part: the least order, and its ladder.

What can be punched out of a sheet in hand is made before anything is bought; what lies in a donor
is in hand already.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import select

from sparewell.catalogue.tables import Part
from sparewell.jobs.tables import Job
from sparewell.lots.tables import Lot
from sparewell.plans.advising import ToMake, made_of, sheets_for
from sparewell.plans.pooling import Terms
from sparewell.plans.wanting import WaitsFor
from sparewell.reorder.choices import ChosenPacks, Question, by_plain_rule, cost_of
from sparewell.reorder.planning import PlannedOrder, least, orders_of, question_of
from sparewell.reorder.sources import Catalogue
from sparewell.suppliers.operations import offers_of_parts
from sparewell.suppliers.tables import Offer
from sparewell.tonight.evening import Evening, WaitingJob, evening
from sparewell.tonight.ladder import Wanted, ladder, together
from sparewell.tonight.short import Short
from sparewell.tonight.solver import TIME_LIMIT_SECONDS
from sparewell.work import Work

MOST_RUNGS = 40


@dataclass(frozen=True)
class LineToOrder:
    """So many pieces of a part, which jobs they finish, and what the packs cost."""

    part: str
    quantity: int
    frees: tuple[str, ...]
    cost: int


@dataclass(frozen=True)
class RungOfJobs:
    """A rung of the ladder: the next amount, the jobs that it finishes, and the total so far."""

    cost: int
    jobs: tuple[str, ...]
    total: int


@dataclass(frozen=True)
class MadeForJob:
    """Pieces that are made out of what is in hand, and for which job."""

    job: str
    row: ToMake


@dataclass(frozen=True)
class Unsold:
    """What nobody sells, as far as the catalogue knows: what a job would ask a seller for."""

    job: str
    kind: str
    pieces: int
    ask_for: tuple[str, ...]


@dataclass(frozen=True)
class LeastOrder:
    """The whole order, its lines by part, its ladder, what is made first, and what nobody sells."""

    orders: Sequence[PlannedOrder] = ()
    lines: Sequence[LineToOrder] = ()
    ladder: Sequence[RungOfJobs] = ()
    to_make: Sequence[MadeForJob] = ()
    unsold: Sequence[Unsold] = ()
    answer: ChosenPacks = field(
        default_factory=lambda: ChosenPacks({}, is_proven=True, gap=0.0, how="nothing is wanted")
    )

    @property
    def total(self) -> int:
        """What everything costs, postage included."""
        return sum(order.total for order in self.orders)


@dataclass(frozen=True)
class ShownEvening:
    """An evening, what to order beside it, and the number of the plan that it is kept as."""

    plan: int
    evening: Evening
    order: LeastOrder | None

    @property
    def to_order(self) -> Sequence[LineToOrder]:
        """What is to be ordered, by part; nothing where nobody asked for it."""
        return self.order.lines if self.order else ()


def evening_with_order(
    work: Work, terms: Terms, *, with_order: bool, seconds: float = TIME_LIMIT_SECONDS
) -> tuple[Evening, LeastOrder | None]:
    """Work out the evening of all open jobs, and what to order for those that lack a part."""
    found = evening(work, terms, seconds=seconds)
    return found, order_for(work, found.waiting[WaitsFor.PART]) if with_order else None


def order_for(work: Work, waiting: Sequence[WaitingJob]) -> LeastOrder:
    """Work out the least order that finishes these jobs, and what finishes most of them first."""
    if not waiting:
        return LeastOrder()
    found = _Wishes(work)
    for each in waiting:
        found.look_at(each)
    parts = {part_id for wanted in found.wanted.values() for part_id in wanted}
    offers = offers_of_parts(work.session, sorted(parts))
    unsold = found.drop_unsold(offers)
    named = select(Part).where(Part.id.in_(parts))
    rows = {part.id: part for part in work.session.scalars(named)}
    everything = together(found.wanted, sorted(found.wanted))
    question = question_of([(rows[each], pieces) for each, pieces in everything.items()], offers)
    answer, _ = least(question)
    orders = orders_of(question, answer, offers)
    return LeastOrder(
        orders,
        _lines(orders, found),
        _ladder(found, rows, offers),
        found.to_make,
        [*found.unsold, *unsold],
        answer,
    )


class _Wishes:
    """What jobs would have to buy, by job and part."""

    def __init__(self, work: Work) -> None:
        self._work, self._catalogue = work, Catalogue(work)
        self._made = Counter[str]()
        self._sheets: dict[str, Sequence[Lot]] = {}
        self._ask_for: dict[tuple[int, int], Unsold] = {}
        self.jobs: dict[int, Job] = {}
        self.wanted: dict[int, Counter[int]] = {}
        self.to_make: list[MadeForJob] = []
        self.unsold: list[Unsold] = []

    def look_at(self, waiting: WaitingJob) -> None:
        """Note what one job would buy; one that lacks what no part stands for buys nothing."""
        job = waiting.job
        pieces = Counter[int]()
        unsold = []
        for short in waiting.short:
            lacking = short.pieces - self._make(job, short)
            if lacking:
                asked = short.sized.asked
                ask_for = tuple(each.ask_for for each in asked.envelope.to_buy)
                unknown = Unsold(job.number, short.need.kind, lacking, ask_for)
                part_id = self._catalogue.best_part(asked)
                if part_id is None:
                    unsold.append(unknown)
                else:
                    pieces[part_id] += lacking
                    self._ask_for[job.id, part_id] = unknown
        self.unsold += unsold
        if not unsold:
            self.jobs[job.id], self.wanted[job.id] = job, pieces

    def _make(self, job: Job, short: Short) -> int:
        """Return how many of the lacking pieces can be made, after those made for other jobs."""
        before = self._made[short.need.kind]
        run = short.sized.asked.run
        if run.calculator.made_from not in self._sheets:
            self._sheets[run.calculator.made_from] = sheets_for(self._work, run)
        sheets = self._sheets[run.calculator.made_from]
        made = list(made_of(self._work, run, sheets, before + short.pieces))
        pieces = max(0, sum(each.pieces for each in made) - before)
        if pieces:
            self._made[short.need.kind] += pieces
            self.to_make.append(MadeForJob(job.number, made[-1]))
        return pieces

    def drop_unsold(self, offers: Mapping[int, Sequence[Offer]]) -> list[Unsold]:
        """Leave out the jobs that want what nobody sells, and return what that is."""
        found = []
        for job_id, wanted in list(self.wanted.items()):
            lacking = [part_id for part_id in wanted if part_id not in offers]
            found += [self._ask_for[job_id, part_id] for part_id in lacking]
            if lacking:
                del self.wanted[job_id]
        return found


def _lines(orders: Sequence[PlannedOrder], found: _Wishes) -> list[LineToOrder]:
    lines = []
    for order in orders:
        for line in order.lines:
            frees = [
                found.jobs[job].number
                for job in sorted(found.wanted)
                if found.wanted[job][line.offer.part_id or 0]
            ]
            lines.append(LineToOrder(line.part, line.pieces, tuple(frees), line.cost))
    return lines


def _ladder(
    found: _Wishes, parts: Mapping[int, Part], offers: Mapping[int, Sequence[Offer]]
) -> list[RungOfJobs]:
    def question(wanted: Wanted) -> Question:
        return question_of([(parts[each], pieces) for each, pieces in wanted.items()], offers)

    def roughly(wanted: Wanted) -> int:
        asked = question(wanted)
        return cost_of(asked, by_plain_rule(asked))

    def exactly(wanted: Wanted) -> int:
        asked = question(wanted)
        return cost_of(asked, least(asked)[0].choice)

    some = dict(sorted(found.wanted.items())[:MOST_RUNGS])
    return [
        RungOfJobs(rung.cost, tuple(found.jobs[job].number for job in rung.jobs), rung.total)
        for rung in ladder(some, roughly, exactly)
    ]
