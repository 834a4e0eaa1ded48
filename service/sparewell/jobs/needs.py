"""What a job needs, changed as the pen turns out to be: added, altered, decided, dropped.

Nothing is deleted: a need that was dropped stays with the reason, and may be taken back.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sparewell.errors import Conflict, NotFound, Problem
from sparewell.extend.declarations import TemplateNeed
from sparewell.extend.templates import need_faults
from sparewell.filling_systems.operations import readings_of, refuse
from sparewell.jobs.operations import covers, locked_open, need_of
from sparewell.jobs.tables import Job, Need
from sparewell.work import Work

MOST_NEEDS = 100
_PLAIN = ("quantity", "optional", "calculator", "given", "reads", "materials", "note")


def find_need(job: Job, need_id: int) -> Need:
    """Return a need of a job. Raises :class:`NotFound`."""
    for need in job.needs:
        if need.id == need_id:
            return need
    raise NotFound(f"{job.number} has no need {need_id}")


def add_need(work: Work, job: Job, template: TemplateNeed) -> Need:
    """Add a need to an open job. Raises Impossible and Conflict."""
    job = locked_open(work, job)
    _refuse_faults(work, job, template)
    if len(job.needs) >= MOST_NEEDS:
        raise Conflict(f"{job.number} has {MOST_NEEDS} needs, which is the most that a job takes")
    need = need_of(template)
    job.needs.append(need)
    work.session.flush()
    return need


def change_need(work: Work, job: Job, need_id: int, changes: Mapping[str, Any]) -> Need:
    """Change a need of an open job, decide it, drop it or take it back.

    Raises :class:`Conflict` where pieces promised or used for it forbid that.
    """
    job = locked_open(work, job)
    need = find_need(job, need_id)
    if changes.get("dropped"):
        _drop(work, job, need, changes["why"])
    elif need.dropped_at is not None:
        if changes.get("dropped") is None:
            raise Conflict(
                f"need {need.id} was dropped ({need.dropped_why}): take it back first, "
                'with {"dropped": false}'
            )
        need.dropped_at = need.dropped_by = need.dropped_why = None
    for name in _PLAIN:
        if name in changes:
            setattr(need, name, changes[name])
    if "calculator" in changes:
        for name in ("given", "reads"):
            if name not in changes:
                still = _still_taken(work, need.calculator, getattr(need, name))
                setattr(need, name, still)
    _decide(need, changes)
    if not changes.keys().isdisjoint({"calculator", "given", "reads", "materials"}):
        _refuse_faults(work, job, _template_of(need))
    _count(work, job, need, changes)
    work.session.flush()
    return need


def _decide(need: Need, changes: Mapping[str, Any]) -> None:
    """Where somebody looked into the pen and wants it, the job needs it from now on."""
    if changes.get("decided") and not need.decided:
        need.decided, need.optional = True, changes.get("optional", False)


def _drop(work: Work, job: Job, need: Need, why: str) -> None:
    cover = covers(work.session, [job])[need.id]
    if cover.promised or cover.used:
        raise Conflict(
            f"need {need.id} ({need.kind}) has {cover.promised} promised and {cover.used} used: "
            "release what is promised first; what was used cannot be dropped",
            [Problem("/dropped", "pieces are promised or used for it", {"need": need.id})],
        )
    need.dropped_at = work.now
    need.dropped_by = work.actor.person or work.actor.token
    need.dropped_why = why


def _count(work: Work, job: Job, need: Need, changes: Mapping[str, Any]) -> None:
    """Whoever names a number wants that number, and no longer as many as fill the place."""
    if "quantity" not in changes:
        return
    need.at_most = None
    cover = covers(work.session, [job])[need.id]
    least = cover.promised + cover.used
    if need.quantity < least:
        raise Conflict(
            f"{need.quantity} wanted for need {need.id} ({need.kind}), and {cover.promised} "
            f"promised and {cover.used} used for it already",
            [Problem("/quantity", f"at least {least}, or release some first")],
        )


def _still_taken(work: Work, calculator: str | None, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what another calculator takes too; the rest was meant for the one before."""
    known = work.declared.calculators.get(calculator or "")
    inputs = {each.name for each in known.inputs} if known else set()
    return {name: value for name, value in values.items() if name in inputs}


def _template_of(need: Need) -> TemplateNeed:
    return TemplateNeed(
        kind=need.kind,
        seals_where=need.seals_where,
        quantity=need.quantity,
        calculator=need.calculator,
        given=need.given,
        reads=need.reads,
        materials=tuple(need.materials),
    )


def _refuse_faults(work: Work, job: Job, template: TemplateNeed) -> None:
    faults = need_faults(
        template,
        work.declared.kinds,
        work.declared.calculators,
        frozenset(readings_of(work.declared, job.template)),
        given_to_all=job.template["given"],
    )
    refuse(f"a need of {template.kind!r}", list(faults))
