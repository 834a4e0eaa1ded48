"""What the page of a job shows, put together from its rows and its plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from sparewell.bench.typed import tag_of
from sparewell.bench.wording import link
from sparewell.cautions.operations import Caution
from sparewell.database.numbers import JOB_PREFIX, number_of
from sparewell.edge.context import work
from sparewell.filling_systems.operations import find_system, readings_of
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import cost_warnings, parts_costs
from sparewell.jobs.fetching import fetch_list, taken_for
from sparewell.jobs.held import covers_of, pieces_of
from sparewell.jobs.operations import Cover
from sparewell.jobs.steps import stands_at, steps_of
from sparewell.jobs.tables import ApprovalState, Job, JobState, Need
from sparewell.jobs.unfinished import unfinished
from sparewell.jobs.worth import worth
from sparewell.ledger.tables import Movement
from sparewell.outcomes.alike import PastSize, alike
from sparewell.outcomes.tables import TurnedOut
from sparewell.pens.operations import present_readings, reading_warnings
from sparewell.pens.tables import Reading
from sparewell.plans.advising import NeedAdvice, advise
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.planning import Plan, plan_beside_others

MOST_LINES = 30


@dataclass(frozen=True)
class NeedOnPage:
    """One need: how it stands, what can be done about it, and where it is sized by hand."""

    row: Need
    cover: Cover
    plan: NeedPlan | None
    advice: NeedAdvice
    past: Sequence[PastSize]
    measure_again: str

    @property
    def state(self) -> str:
        """How it stands: open, promised, met; or undecided, or dropped."""
        return self.cover.state(self.row)

    @property
    def wanted(self) -> int:
        """How many pieces it asks for in all."""
        return self.cover.wanted(self.row)

    @property
    def lacking(self) -> int:
        """How many pieces to offer to reserve: one at least."""
        return max(1, self.wanted - self.cover.promised - self.cover.used)


def tag_of_agreed(job: Job) -> str:
    """Return what tells whether what was agreed of a job still is as a page showed it."""
    money = (job.estimate_minor, job.ceiling_minor, job.postage_minor, job.value_as_restored_minor)
    return tag_of(job.wishes, job.promised_on, job.time_minutes, *money)


def tag_of_sale(job: Job) -> str:
    """Return what tells whether what was said of a sale still is as a page showed it."""
    return tag_of(job.sold_on, job.price_minor, job.sold_to, job.warranty_until)


def gather(number: str) -> dict[str, Any]:
    """Return everything the page of a job needs. Raises :class:`NotFound`."""
    session = work().session
    job = jobs.find_job(session, number)
    is_open = job.state == JobState.OPEN
    pieces = pieces_of(session, [job])
    covers = covers_of(pieces.every, [job])
    costs = parts_costs(session, [job], pieces.every)[job.id]
    plan = plan_beside_others(work(), job, pieces.every) if is_open else None
    readings = present_readings(job.pen)
    taken = taken_for(session, job)
    lines = select(Movement).where(Movement.job_id == job.id).order_by(Movement.id.desc())
    return {
        "job": job,
        "pen": job.pen,
        "title": find_system(work(), job.template["name"]).system.title,
        "is_open": is_open,
        "warnings": [
            *cost_warnings(job, costs),
            *reading_warnings(work().declared, readings),
        ],
        "overrides": pieces.overridden,
        "moved": [
            (each, number_of(JOB_PREFIX, each.row.job_id), _number(each.row.moved_for_id))
            for each in pieces.moved
            if each.is_unread(job.id)
        ],
        "needs": _needs(job, covers, plan, readings),
        "complete": plan.complete if plan else None,
        "others_have_it": plan is not None and any(map(_is_had_by_others, plan.needs)),
        "cautions": _each_once(plan.cautions) if plan else [],
        "fetch_list": fetch_list(taken, work().now) if is_open else [],
        "promised": [each for each in taken if each[0].promised],
        "used": [each for each in taken if each[0].used],
        "readings": list(readings_of(work().declared, job.template).values()),
        "known": readings,
        "steps": steps_of(work(), job, pieces),
        "stands_at": stands_at(job),
        "unfinished": unfinished(work().declared, job, covers, work().now) if is_open else [],
        "tests": job.template.get("tests", []),  # copies of the first release have none
        "lines": session.scalars(lines.limit(MOST_LINES)).unique().all(),
        "worth": worth(work(), job, costs),
        "outcomes": tuple(TurnedOut),
        "approvals": tuple(ApprovalState)[1:],
        "agreed_tag": tag_of_agreed(job),
        "sale_tag": tag_of_sale(job),
    }


def _is_had_by_others(plan: NeedPlan) -> bool:
    """Whether what a need lacks would be there, if other jobs did without."""
    refused = plan.found.refused if plan.found else ()
    return plan.short > 0 and any(each.job for each in refused)


def _number(job_id: int | None) -> str:
    return "" if job_id is None else number_of(JOB_PREFIX, job_id)


def _needs(
    job: Job, covers: Mapping[int, Cover], plan: Plan | None, readings: Mapping[str, Reading]
) -> list[NeedOnPage]:
    planned = {each.need.id: each for each in plan.needs} if plan else {}
    past = alike(work(), job.pen) if plan else []
    found = []
    for need in job.needs:
        its_plan = planned.get(need.id)
        found.append(
            NeedOnPage(
                need,
                its_plan.cover if its_plan else covers[need.id],
                its_plan,
                advise(work(), job, its_plan) if its_plan else NeedAdvice(),
                [each for each in past if each.kind == need.kind],
                _measure(job, need, readings),
            )
        )
    return found


def _each_once(cautions: Sequence[Caution]) -> list[Caution]:
    """Return cautions without repeats: several substances may ask for the same one."""
    return list({each.caution: each for each in cautions}.values())


def _measure(job: Job, need: Need, readings: Mapping[str, Reading]) -> str:
    """Return where a need is sized by hand, with the pen's readings filled in."""
    calculator = work().declared.calculators.get(need.calculator or "")
    if calculator is None:
        return ""
    reads = {reading: given for given, reading in need.reads.items()}
    noted = {reads.get(name, name): reading.entered for name, reading in readings.items()}
    given = {name: value for name, value in need.given.items() if isinstance(value, str)}
    taken = {declared.name for declared in calculator.inputs}
    said = {name: value for name, value in (noted | given).items() if name in taken}
    return link(f"/measure/{calculator.name}", job=job.number, **said)
