"""Whether what a job would take is wanted by others too, and for which of them it is counted.

Most jobs want what there is plenty of: one statement tells. Where pieces are scarce, the jobs that
would take the same ones are looked at together, and each piece is counted for one of them: those
promised for a day come first, then those that lack fewest pieces, then the oldest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select

from sparewell.errors import Broken, Impossible
from sparewell.jobs.held import pieces_of_needs
from sparewell.jobs.tables import Job, JobState, Need
from sparewell.lots.tables import Lot
from sparewell.plans.chains import Moving
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.plain_rule import share_out
from sparewell.plans.pooling import Table, Terms, laid_out
from sparewell.plans.wanting import Sized, Sizer, Wanting, wanting
from sparewell.work import Work

MOST_COMPARED = 200


@dataclass(frozen=True)
class Contest:
    """The jobs that want the same pieces, by need, and whether the pieces are counted for others.

    `is_outdone` says that what there is is counted for those that come first.
    """

    wanted_by: Mapping[int, tuple[str, ...]]
    is_outdone: bool


def contest(work: Work, job: Job, plans: Sequence[NeedPlan]) -> Contest | None:
    """Return who else wants what a job would take; None where there is enough for everybody."""
    scarce = _scarce(work, job, [each for each in plans if each.best and not each.need.optional])
    if not scarce:
        return None
    sizer = Sizer(work)
    others = _others(work, job, {each.need.kind for each in scarce})
    own, *rivals = wanting(work, [job, *others], sizer)
    lots = [candidate.lot for each in scarce if each.found for candidate in each.found.candidates]
    rivals = [each for each in rivals if any(_would_take(sized, lots) for sized in each.sized)]
    if not rivals:
        return None
    table = laid_out(work, [own, *rivals], sizer, Terms(moving=Moving.NONE), {})
    share = share_out(table.workshop)
    wanted_by = {each.need.id: _also(table, own, each.need) for each in scarce}
    return Contest(
        {need: jobs for need, jobs in wanted_by.items() if jobs},
        is_outdone=not own.waits and job.id not in share.ways,
    )


def _scarce(work: Work, job: Job, plans: Sequence[NeedPlan]) -> list[NeedPlan]:
    """Return the needs for which there is not enough in hand for all jobs that want the kind."""
    if not plans:
        return []
    pieces = pieces_of_needs()
    left = func.coalesce(Need.at_most, Need.quantity) - func.coalesce(pieces.c.pieces, 0)
    statement = (
        select(Need.kind, func.sum(left))
        .join(Job, Job.id == Need.job_id)
        .outerjoin(pieces, pieces.c.need_id == Need.id)
        .where(
            Job.state == JobState.OPEN,
            Job.id != job.id,
            Need.kind.in_({each.need.kind for each in plans}),
            Need.optional.is_(False),
            Need.decided,
            Need.dropped_at.is_(None),
            left > 0,
        )
        .group_by(Need.kind)
    )
    wanted = {kind: int(count) for kind, count in work.session.execute(statement)}
    return [
        each
        for each in plans
        if _in_hand(each) < each.cover.remaining(each.need) + wanted.get(each.need.kind, 0)
        and wanted.get(each.need.kind, 0)
    ]


def _in_hand(plan: NeedPlan) -> int:
    candidates = plan.found.candidates if plan.found else ()
    return sum(each.lot.available for each in candidates if each.is_taken_by_itself)


def _others(work: Work, job: Job, kinds: set[str]) -> Sequence[Job]:
    """Return the other open jobs that need a piece of these kinds, those that come first first."""
    needing = select(Need.job_id).where(
        Need.kind.in_(kinds), Need.optional.is_(False), Need.decided, Need.dropped_at.is_(None)
    )
    statement = (
        select(Job)
        .where(Job.state == JobState.OPEN, Job.id != job.id, Job.id.in_(needing))
        .order_by(Job.promised_on.is_(None), Job.promised_on, Job.id)
        .limit(MOST_COMPARED)
    )
    return work.session.scalars(statement).unique().all()


def _would_take(sized: Sized, lots: Sequence[Lot]) -> bool:
    """Whether a need would take any of these lots unasked."""
    try:
        return any(
            lot.kind == sized.need.kind and sized.asked.judge.judge(lot).is_taken_by_itself
            for lot in lots
        )
    except (Impossible, Broken):
        return False


def _also(table: Table, own: Wanting, need: Need) -> tuple[str, ...]:
    """Return the other jobs of which a want may come from the same lots."""
    lots = {
        lot
        for (job, _, of), options in table.candidates.items()
        if job == own.job.id and of == need.id
        for lot in options
    }
    others = {
        job
        for (job, _, _), options in table.candidates.items()
        if job != own.job.id and not lots.isdisjoint(options)
    }
    return tuple(table.wantings[each].job.number for each in sorted(others))
