"""How a pen's intake and a job on its way are shown: from rows to what their schemas name."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sparewell.database.numbers import JOB_PREFIX, PEN_PREFIX, number_of
from sparewell.measure.length import millimetres
from sparewell.repairs.alike import MOST_JOBS_SHOWN, PastSize
from sparewell.repairs.bench_tables import Outcome
from sparewell.repairs.costs import PartsCost, cost_warnings
from sparewell.repairs.history import Content
from sparewell.repairs.intake import NOT_ASKED
from sparewell.repairs.outcomes import OUTCOMES, Fitting, part_number
from sparewell.repairs.tables import Job, Pen
from sparewell.repairs.waiting import standing
from sparewell.stock.tables import Reservation


def pen_intake(pen: Pen) -> dict[str, Any]:
    """Return what was noted of a pen when it came in."""
    return {
        "owner": pen.owner,
        "accessories": pen.accessories,
        "condition": pen.condition,
        "components": pen.components,
        "model_note": pen.model_note,
        "cost": pen.cost_minor,
        "retired": pen.retired_at is not None,
        "retired_at": pen.retired_at,
    }


def job_on_its_way(job: Job, costs: PartsCost, overrides: Sequence[Reservation]) -> dict[str, Any]:
    """Return what was agreed of a job, where it stands, and how it went."""
    return {
        "wishes": job.wishes,
        "promised_on": job.promised_on,
        "estimate": job.estimate_minor,
        "ceiling": job.ceiling_minor,
        "postage": job.postage_minor,
        "approval": _approval(job),
        "parts_cost": costs.total,
        "warnings": cost_warnings(job, costs),
        "stands_at": _stands_at(job),
        "timers": job.timers,
        "glue": job.glue,
        "ink": job.ink,
        "test_results": job.test_results,
        "time_minutes": job.time_minutes,
        "value_as_restored": job.value_as_restored_minor,
        "closed_anyway": job.closed_anyway,
        "overrides": [
            {
                "reservation": row.id,
                "lot": row.lot_id,
                "refused_because": row.why,
                "override": row.override,
            }
            for row in overrides
            if row.job_id == job.id
        ],
    }


def _approval(job: Job) -> dict[str, Any]:
    latest = job.approvals[-1] if job.approvals else None
    shown = {name: getattr(latest, name, None) for name in ("by", "actor", "person", "at")}
    return shown | {
        "state": latest.state if latest else NOT_ASKED,
        "note": latest.note if latest else "",
    }


def _stands_at(job: Job) -> int | None:
    done = standing(job)
    positions = range(1, len(job.template["steps"]) + 1)
    return next((position for position in positions if position not in done), None)


def step_standings(job: Job, not_owed: Collection[int]) -> list[dict[str, Any]]:
    """Return of each step of a job, in their order, whether it is done."""
    done = standing(job)
    shown = []
    for position in range(1, len(job.template["steps"]) + 1):
        mark = done.get(position)
        shown.append(
            {
                "position": position,
                "done": mark is not None,
                "done_at": mark.at if mark else None,
                "done_by": (mark.person or mark.actor) if mark else None,
                "done_note": mark.note if mark else "",
                "not_needed": mark is not None and mark.not_needed,
                "owed": position not in not_owed,
            }
        )
    return shown


def past_size(past: PastSize) -> dict[str, Any]:
    """Return one size and how it did in pens like this."""
    return {
        "kind": past.kind,
        "size": past.size,
        "pens": len(past.pens),
        **{outcome: past.outcomes[outcome] for outcome in OUTCOMES},
        "not_said": past.outcomes[""],
        "sentence": past.sentence,
        "jobs": past.jobs[-MOST_JOBS_SHOWN:],
    }


def outcome(told: Outcome, fitting: Fitting) -> dict[str, Any]:
    """Return an outcome with what it is about."""
    return {
        "id": told.id,
        "reservation": told.reservation_id,
        "job": fitting.job.number,
        "pen": fitting.pen.number,
        "lot": fitting.lot.id,
        "part": part_number(fitting.lot),
        "size": told.size,
        "outcome": told.outcome,
        "counts": fitting.outcome is not None and fitting.outcome.id == told.id,
        "verdict": told.verdict,
        "glue": told.glue,
        "ink": told.ink,
        "readings": {name: _kept_reading(kept) for name, kept in told.readings.items()},
        "note": told.note,
        "actor": told.actor,
        "person": told.person,
        "at": told.at,
    }


def _kept_reading(kept: dict[str, Any]) -> dict[str, Any]:
    length = kept["value_nanometres"]
    return {
        "id": kept["id"],
        "value": kept["value_text"] if length is None else millimetres(length),
        "entered": kept["entered"],
    }


def sister(fitting: Fitting, inside: list[Content]) -> dict[str, Any]:
    """Return pieces of the same lot in another pen."""
    reservation = fitting.reservation
    return {
        "pen": fitting.pen.number,
        "called": fitting.pen.called,
        "owner": fitting.pen.owner,
        "job": fitting.job.number,
        "reservation": reservation.id,
        "lot": fitting.lot.id,
        "used": reservation.used,
        "outcome": fitting.outcome.outcome if fitting.outcome else None,
        "still_in": any(each.movement.reservation_id == reservation.id for each in inside),
    }


def content(inside: Content, size: str, glue: str) -> dict[str, Any]:
    """Return pieces that are in a pen now."""
    line, lot = inside.movement, inside.lot
    return {
        "kind": lot.kind,
        "part": part_number(lot),
        "lot": lot.id,
        "label": lot.label,
        "size": size,
        "quantity": inside.quantity,
        "seals_where": inside.need.seals_where if inside.need else None,
        "since": line.act.at,
        "job": inside.job.number,
        "reservation": line.reservation_id,
        "glue": glue,
        "outcome": inside.outcome.outcome if inside.outcome else None,
        "actor": line.act.actor,
        "person": line.act.person,
    }


def numbers(job_id: int, pen_id: int) -> dict[str, str]:
    """Return the numbers of a job and its pen."""
    return {"job": number_of(JOB_PREFIX, job_id), "pen": number_of(PEN_PREFIX, pen_id)}
