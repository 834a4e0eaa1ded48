"""What open jobs want and have not reserved: pieces in hand they would take, and what is short.

Each need is sized and its pieces are judged as in its job's plan, though only until enough of them
do, those in drawers and nearest to the ideal first. What no piece in hand covers is looked up in
the catalogue: the part whose nominal dimensions the calculator judges best, one that somebody sells
before others. Optional needs and those not decided are not counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import ColumnElement, Select, func, select

from sparewell.catalogue.tables import Part, column_of
from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.extend.declarations import Envelope, Piece
from sparewell.fitting import at_hand
from sparewell.fitting.judging import TAKEN_BY_ITSELF, judge_lot
from sparewell.jobs.inputs import missing_inputs, run_for
from sparewell.jobs.tables import Job, JobState, Need
from sparewell.lots import search
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation
from sparewell.suppliers.tables import Offer
from sparewell.work import Work

MOST_PARTS_JUDGED = 20
A_FEW = 10
MOST_NEEDS = 500
_ORDER = {verdict: position for position, verdict in enumerate(TAKEN_BY_ITSELF)}


@dataclass
class Wanted:
    """What open jobs want of a part and have not reserved; `short` of it is not in hand."""

    pieces: int = 0
    short: int = 0
    jobs: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Unmatched:
    """A need that is short and for which the catalogue has no part; what to ask a seller for."""

    job: str
    need: int
    kind: str
    short: int
    ask_for: tuple[str, ...]


@dataclass
class OpenNeeds:
    """What all open jobs want, by part; what no part was found for; how many were not looked at."""

    by_part: dict[int, Wanted] = field(default_factory=dict)
    unmatched: list[Unmatched] = field(default_factory=list)
    not_looked_at: int = 0


def wanted_by_jobs(work: Work) -> OpenNeeds:
    """Return what open jobs want beyond what they have reserved."""
    found = OpenNeeds()
    rows = _remaining(work)
    found.not_looked_at = max(0, len(rows) - MOST_NEEDS)
    taken: dict[int, int] = {}
    for job, need, remaining in rows[:MOST_NEEDS]:
        run = _run(work, job, need)
        if run is None:
            continue
        try:
            lacking = remaining + _beyond(need, run)
            if lacking <= 0:
                continue
            short, ask_for = _take(work, run, job, lacking, taken, found)
            if short:
                _order(work, run, job, need, short, ask_for, found)
        except (Impossible, Broken):
            continue  # the job's plan says what is wrong with it
    return found


def _beyond(need: Need, run: Run) -> int:
    """Return how many more fill the place of a range than its least."""
    fills = run.quantity() if need.at_most is not None else None
    return 0 if fills is None else fills - need.quantity


def _remaining(work: Work) -> Sequence[tuple[Job, Need, int]]:
    covered = (
        select(
            Reservation.need_id,
            func.sum(Reservation.promised).label("promised"),
            func.sum(Reservation.promised + Reservation.used).label("pieces"),
        )
        .group_by(Reservation.need_id)
        .subquery()
    )
    left = Need.quantity - func.coalesce(covered.c.pieces, 0)
    statement = (
        select(Job, Need, left)
        .join(Need, Need.job_id == Job.id)
        .outerjoin(covered, covered.c.need_id == Need.id)
        .where(
            Job.state == JobState.OPEN,
            Need.decided,
            Need.dropped_at.is_(None),
            Need.optional.is_(False),
            Need.calculator.is_not(None),
            # More than the least may fill the place, until the least is fitted and no more is held.
            (left > 0) | (Need.at_most.is_not(None) & (covered.c.promised > 0)),
        )
        .order_by(Job.id, Need.id)
    )
    return [(job, need, int(pieces)) for job, need, pieces in work.session.execute(statement)]


def _run(work: Work, job: Job, need: Need) -> Run | None:
    """Return the run that sizes a need; None while readings are missing."""
    calculator = work.declared.calculators.get(need.calculator or "")
    if calculator is None or not calculator.fits_pieces:
        return None
    try:
        run = run_for(work, job, need)
    except Impossible:
        return None
    return None if missing_inputs(run) else run


def _take(
    work: Work, run: Run, job: Job, wanted: int, taken: dict[int, int], found: OpenNeeds
) -> tuple[int, tuple[str, ...]]:
    """Count the pieces in hand that a job would take; return how many are lacking then.

    `taken` keeps two jobs from counting on the same piece.
    """
    envelope = run.envelope()
    lead = work.declared.kinds[envelope.kind].led_by
    seen: set[int] = set()
    for lots in _further_and_further(work, envelope, lead):
        for lot in lots:
            count = min(wanted, lot.available - taken.get(lot.id, 0))
            if lot.id not in seen and count > 0 and _would_do(work, run, lot):
                taken[lot.id] = taken.get(lot.id, 0) + count
                wanted -= count
                if lot.part_id is not None:
                    _note(found, lot.part_id, job, count)
            seen.add(lot.id)
        if wanted == 0:
            break
    return wanted, tuple(purchase.ask_for for purchase in envelope.to_buy)


def _further_and_further(work: Work, envelope: Envelope, lead: str) -> Iterator[Sequence[Lot]]:
    """Yield a few lots in drawers just beside the ideal, and then all that a plan looks at.

    The few come straight off the index; to put all in order takes many times as long.
    """
    column = search.dimension_column(lead)
    for side, order in (
        (column >= envelope.ideal, column.asc()),
        (column < envelope.ideal, column.desc()),
    ):
        statement = (
            select(Lot)
            .where(Lot.kind == envelope.kind, Lot.has_available, Lot.donor_id.is_(None))
            .where(Lot.condition.is_(None), side, *search.within(envelope.ranges))
            .order_by(order, Lot.id)
            .limit(A_FEW)
        )
        yield work.session.scalars(statement).unique().all()
    lots = search.nearest(work.session, envelope.kind, lead, envelope.ideal, envelope.ranges)
    yield sorted(lots, key=lambda lot: lot.donor_id is not None)


def _would_do(work: Work, run: Run, lot: Lot) -> bool:
    """Whether a plan would count on a lot; not where what is fixed in it is promised."""
    if any(at_hand.promised_inside(work.session, [lot])):
        return False
    return judge_lot(work, run, lot).is_taken_by_itself


def _note(found: OpenNeeds, part_id: int, job: Job, pieces: int, short: int = 0) -> None:
    wanted = found.by_part.setdefault(part_id, Wanted())
    wanted.pieces += pieces
    wanted.short += short
    if job.number not in wanted.jobs:
        wanted.jobs.append(job.number)


def _order(
    work: Work,
    run: Run,
    job: Job,
    need: Need,
    short: int,
    ask_for: tuple[str, ...],
    found: OpenNeeds,
) -> None:
    part = best_part(work, run)
    if part is None:
        found.unmatched.append(Unmatched(job.number, need.id, need.kind, short, ask_for))
    else:
        _note(found, part.id, job, short, short)


def best_part(work: Work, run: Run) -> Part | None:
    """Return the part of the catalogue that would do best by its nominal dimensions."""
    envelope = run.envelope()
    lead = work.declared.kinds[envelope.kind].led_by
    offered = set(work.session.scalars(_offered(envelope.kind)))
    judged = []
    for part in _inside(work, envelope, lead):
        judgement = run.judge(_piece(part))
        if judgement.verdict in _ORDER:
            distance = abs(part.dimensions[lead] - envelope.ideal)
            rank = (_ORDER[judgement.verdict], judgement.preference, part.id not in offered)
            judged.append((*rank, distance, part.id, part))
    return min(judged)[-1] if judged else None


def _piece(part: Part) -> Piece:
    """Return what the catalogue says of a part, as a calculator is told of it."""
    basis = dict.fromkeys(part.dimensions, "nominal")
    return Piece(part.kind, part.dimensions, basis, material=part.material)


def _inside(work: Work, envelope: Envelope, lead: str) -> Sequence[Part]:
    """Return the parts whose nominal dimensions are inside a box, as far as they are known."""
    conditions: list[ColumnElement[bool]] = [getattr(Part, column_of(lead)).is_not(None)]
    for name, bounds in envelope.ranges.items():
        column = getattr(Part, column_of(name))
        if bounds.low is not None:
            conditions.append(column.is_(None) | (column >= bounds.low))
        if bounds.high is not None:
            conditions.append(column.is_(None) | (column <= bounds.high))
    distance = func.abs(getattr(Part, column_of(lead)) - envelope.ideal)
    statement = (
        select(Part)
        .where(Part.kind == envelope.kind, *conditions)
        .order_by(distance, Part.id)
        .limit(MOST_PARTS_JUDGED)
    )
    return work.session.scalars(statement).all()


def _offered(kind: str) -> Select[Any]:
    return (
        select(Offer.part_id)
        .join(Part, Part.id == Offer.part_id)
        .where(Part.kind == kind, Offer.retired_at.is_(None))
    )
