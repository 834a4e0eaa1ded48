"""What the parts of a job cost: those used as they were taken, those promised as they lie."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from sparewell.jobs.tables import Job
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.measure.money import money_text, take_share
from sparewell.reservations.tables import Reservation


@dataclass
class PartsCost:
    """Costs in the smallest unit, and how many pieces have none that is known."""

    used: int = 0
    promised: int = 0
    spoiled: int = 0
    unknown_pieces: int = 0

    @property
    def total(self) -> int:
        """What the job's used and promised parts cost, as far as it is known."""
        return self.used + self.promised


def parts_costs(session: Session, jobs: Iterable[Job]) -> Mapping[int, PartsCost]:
    """Return the cost of the parts of each job; two statements however many jobs."""
    found = {job.id: PartsCost() for job in jobs}
    taken = (
        select(
            Movement.job_id,
            Movement.verb,
            func.sum(-Movement.cost_change_minor),
            func.sum(case((Lot.cost_minor.is_(None), -Movement.change), else_=0)),
        )
        .join(Lot, Lot.id == Movement.lot_id)
        .where(
            Movement.job_id.in_(found),
            Movement.verb.in_((Verb.FITTED, Verb.PUT_BACK, Verb.SPOILED)),
            Movement.act_id.not_in(select(Act.undoes_act_id).where(Act.undoes_act_id.is_not(None))),
        )
        .group_by(Movement.job_id, Movement.verb)
    )
    for job_id, verb, cost, unknown in session.execute(taken):
        costs = found[job_id]
        costs.unknown_pieces += int(unknown)
        if verb == Verb.SPOILED:
            costs.spoiled += int(cost)
        else:
            costs.used += int(cost)
    promised = (
        select(Reservation.job_id, func.sum(Reservation.promised), Lot.cost_minor, Lot.in_hand)
        .join(Lot, Lot.id == Reservation.lot_id)
        .where(Reservation.job_id.in_(found), Reservation.promised > 0)
        .group_by(Reservation.job_id, Lot.id)
    )
    for job_id, pieces, cost, in_hand in session.execute(promised):
        costs = found[job_id]
        if cost is None:
            costs.unknown_pieces += int(pieces)
        else:
            # A ledger out of balance is the audit's to tell; the job can still be read.
            costs.promised += cost if pieces >= in_hand else take_share(cost, in_hand, int(pieces))
    return found


def ceiling_warnings(session: Session, job: Job) -> list[str]:
    """Return what has to be said of a job's costs; without a ceiling nothing is looked up."""
    if job.ceiling_minor is None:
        return []
    return cost_warnings(job, parts_costs(session, [job])[job.id])


def cost_warnings(job: Job, costs: PartsCost) -> list[str]:
    """Return what has to be said of a job's costs beside its agreed ceiling."""
    said: list[str] = []
    if job.ceiling_minor is None:
        return said
    if costs.total > job.ceiling_minor:
        said.append(
            f"its parts cost {money_text(costs.total)}, above the agreed ceiling of "
            f"{money_text(job.ceiling_minor)}"
        )
    if costs.unknown_pieces:
        said.append(
            f"{costs.unknown_pieces} of its pieces have no known cost, so the ceiling of "
            f"{money_text(job.ceiling_minor)} cannot be watched"
        )
    return said
