"""What the parts of a job cost: those used as they were taken, those promised as they lie."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from sparewell.jobs.held import HeldPiece, held
from sparewell.jobs.tables import Job
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.measure.money import money_text, take_share


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


def parts_costs(
    session: Session, jobs: Sequence[Job], pieces: Iterable[HeldPiece] | None = None
) -> Mapping[int, PartsCost]:
    """Return the cost of the parts of each job, of which the `pieces` are those that they have.

    One statement however many jobs, and another where nobody has looked what they have.
    """
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
    promised: defaultdict[tuple[int, int], int] = defaultdict(int)
    lots: dict[int, Lot] = {}
    for each in held(session, jobs) if pieces is None else pieces:
        promised[each.job_id, each.lot.id] += each.promised
        lots[each.lot.id] = each.lot
    for (job_id, lot_id), quantity in promised.items():
        _add_promised(found[job_id], lots[lot_id], quantity)
    return found


def _add_promised(costs: PartsCost, lot: Lot, quantity: int) -> None:
    if lot.cost_minor is None:
        costs.unknown_pieces += quantity
    elif quantity:
        # A ledger out of balance is the audit's to tell; the job can still be read.
        share = quantity < lot.in_hand
        costs.promised += (
            take_share(lot.cost_minor, lot.in_hand, quantity) if share else lot.cost_minor
        )


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
