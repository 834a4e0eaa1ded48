"""How outcomes, pens alike and the contents of a pen are shown."""

from __future__ import annotations

from typing import Any

from sparewell.measure.length import millimetres
from sparewell.outcomes.alike import MOST_JOBS_SHOWN, PastSize
from sparewell.outcomes.contents import PenContent
from sparewell.outcomes.operations import Fitting, part_number
from sparewell.outcomes.tables import Outcome, TurnedOut


def past_size(past: PastSize) -> dict[str, Any]:
    """Return one size and how it did in pens like this."""
    return {
        "kind": past.kind,
        "size": past.size,
        "pens": len(past.pens),
        **{outcome: past.outcomes[outcome] for outcome in TurnedOut},
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


def sister(fitting: Fitting, inside: list[PenContent]) -> dict[str, Any]:
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


def content(inside: PenContent, size: str, glue: str) -> dict[str, Any]:
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
