"""What open jobs want and have not reserved: pieces in hand they would take, and what is short.

Each need is sized and its pieces are judged as in its job's plan, though only until enough of them
do: for all needs first those in drawers just beside the ideal, then all that a plan looks at. What
no piece in hand covers is looked up in the catalogue: the part whose nominal dimensions the
calculator judges best, one that somebody sells before others. Optional needs and those not decided
are not counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func, select

from sparewell.errors import Broken, Impossible
from sparewell.extend.calculation import Run
from sparewell.fitting.in_hand import Asked, PiecesInHand
from sparewell.jobs.held import HeldPiece, held, pieces_of_needs
from sparewell.jobs.inputs import missing_inputs, run_if_any, settled_readings, settles
from sparewell.jobs.tables import Job, JobState, Need
from sparewell.lots.tables import Lot
from sparewell.reorder.sources import Catalogue
from sparewell.work import Work

MOST_NEEDS = 500


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


@dataclass
class _SizedNeed:
    """A need that jobs have not covered: what sizes it, and how many pieces it lacks yet."""

    job: Job
    need: Need
    asked: Asked
    lacking: int


def wanted_by_jobs(work: Work) -> OpenNeeds:
    """Return what open jobs want beyond what they have reserved."""
    found = OpenNeeds()
    rows = _remaining(work)
    found.not_looked_at = max(0, len(rows) - MOST_NEEDS)
    lacking = list(_sized(work, rows[:MOST_NEEDS]))
    pieces, catalogue = PiecesInHand(work), Catalogue(work)
    taken: dict[int, int] = {}
    for look_up in (pieces.nearby, pieces.everywhere):
        lots = look_up([each.asked for each in lacking])
        lacking = [
            each
            for each, its in zip(lacking, lots, strict=True)
            if _judged(_take, each, its, taken, found) and each.lacking
        ]
    for each in lacking:
        _judged(_order, each, catalogue, found)
    return found


def _judged(action: Callable[..., None], *arguments: Any) -> bool:
    """Do what asks a calculator; where that fails, the job's plan says what is wrong with it."""
    try:
        action(*arguments)
    except (Impossible, Broken):
        return False
    return True


def _sized(work: Work, rows: Sequence[tuple[Job, Need, int]]) -> Iterator[_SizedNeed]:
    """Yield the needs that can be sized, and of which anything is lacking."""
    settled = _settled(work, rows)
    for job, need, remaining in rows:
        run = run_if_any(work, job, need, settled[job.id, need.id])
        if run is None or missing_inputs(run):
            continue
        try:
            lacking = remaining + _beyond(need, run)
            if lacking > 0:
                yield _SizedNeed(job, need, Asked.of(work, run), lacking)
        except (Impossible, Broken):
            continue  # as above


def _beyond(need: Need, run: Run) -> int:
    """Return how many more fill the place of a range than its least."""
    fills = run.quantity() if need.at_most is not None else None
    return 0 if fills is None else fills - need.quantity


def _remaining(work: Work) -> Sequence[tuple[Job, Need, int]]:
    covered = pieces_of_needs()
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


def _settled(
    work: Work, rows: Sequence[tuple[Job, Need, int]]
) -> Mapping[tuple[int, int], Mapping[str, int]]:
    """Return, by job and need, the readings that pieces held for its other needs settle."""
    jobs = {job.id: job for job, *_ in rows if any(settles(work, need) for need in job.needs)}
    pieces: dict[int, list[HeldPiece]] = {job_id: [] for job_id in jobs}
    for piece in held(work.session, jobs.values()):
        pieces[piece.job_id].append(piece)
    found = {}
    for job, need, _ in rows:
        others = [each for each in pieces.get(job.id, ()) if each.need_id != need.id]
        found[job.id, need.id] = settled_readings(work, job, others) if others else {}
    return found


def _take(each: _SizedNeed, lots: Sequence[Lot], taken: dict[int, int], found: OpenNeeds) -> None:
    """Count the pieces that a job would take; `taken` keeps two from counting on the same one."""
    for lot in lots:
        count = min(each.lacking, lot.available - taken.get(lot.id, 0))
        if count > 0 and each.asked.judge.judge(lot).is_taken_by_itself:
            taken[lot.id] = taken.get(lot.id, 0) + count
            each.lacking -= count
            if lot.part_id is not None:
                _note(found, lot.part_id, each.job, count)


def _note(found: OpenNeeds, part_id: int, job: Job, pieces: int, short: int = 0) -> None:
    wanted = found.by_part.setdefault(part_id, Wanted())
    wanted.pieces += pieces
    wanted.short += short
    if job.number not in wanted.jobs:
        wanted.jobs.append(job.number)


def _order(each: _SizedNeed, catalogue: Catalogue, found: OpenNeeds) -> None:
    part_id = catalogue.best_part(each.asked)
    if part_id is None:
        ask_for = tuple(purchase.ask_for for purchase in each.asked.envelope.to_buy)
        need = each.need
        found.unmatched.append(
            Unmatched(each.job.number, need.id, need.kind, each.lacking, ask_for)
        )
    else:
        _note(found, part_id, each.job, each.lacking, each.lacking)
