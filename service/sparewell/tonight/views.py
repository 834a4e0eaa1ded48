"""Which pens can be finished tonight, what to order for the others, and promising all of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from flask import request

from sparewell.edge.api import Blueprint
from sparewell.edge.beforehand import beforehand, found_beforehand, work_in
from sparewell.edge.context import caller, services, work
from sparewell.edge.scopes import scope
from sparewell.edge.unit_of_work import write_beside
from sparewell.errors import Conflict
from sparewell.jobs.operations import find_job
from sparewell.plans.pooling import Terms
from sparewell.plans.sharing import Weight
from sparewell.reservations.promising import how_long
from sparewell.tonight import keeping
from sparewell.tonight.background import LongEvening
from sparewell.tonight.evening import evening, refuse_many
from sparewell.tonight.ordering import ShownEvening, evening_with_order
from sparewell.tonight.promises import Promises, carry_out, refuse_changed
from sparewell.tonight.schemas import (
    KeptEveningSchema,
    NewEveningSchema,
    PromisedTonightSchema,
    PromiseTonightSchema,
    TonightArguments,
    TonightSchema,
)
from sparewell.tonight.tables import EveningState, KeptEvening
from sparewell.work import Work

blueprint = Blueprint("tonight", __name__, url_prefix="/v1", tag="tonight")


def terms_of(said: dict[str, Any]) -> Terms:
    """Return the terms that a request asks for."""
    return Terms(Weight(said["weight"]), said.get("minutes"), said["move"])


@blueprint.route("/tonight")
@blueprint.arguments(TonightArguments, location="query")
@blueprint.response(200, TonightSchema)
def get_tonight(arguments: dict[str, Any]) -> Any:
    """Work out which pens can be finished with what is in hand. Takes nothing.

    All open jobs are looked at together, so no piece is counted on twice. What is shown is kept as
    a plan for a day, by which it can be promised.
    """
    refuse_many(work())
    with_order = arguments["orders"] == "true"
    found, order = evening_with_order(work(), terms_of(arguments), with_order=with_order)
    promises = Promises.of(work(), found).written()

    def kept(session: Any) -> int:
        writing = work_in(session)
        row = keeping.keep(writing, EveningState.READY)
        row.promises = promises
        return row.id

    return ShownEvening(write_beside(kept), found, order)


@dataclass(frozen=True)
class _ToPromise:
    """What is to be promised, and for which jobs."""

    promises: Promises
    jobs: list[str]
    lasts: timedelta | None


def _to_promise(reading: Work) -> _ToPromise:
    said = blueprint.ARGUMENTS_PARSER.parse(PromiseTonightSchema, request, location="json")
    lasts = timedelta(minutes=said["expires_in"]) if "expires_in" in said else how_long(reading)
    if "plan" in said:
        kept = keeping.ready(reading, said["plan"])
        promises = Promises.read(kept.promises)
        refuse_changed(reading, promises)
        if not promises.promises:
            raise Conflict(f"plan {said['plan']} promises nothing: GET /v1/tonight says why")
        return _ToPromise(promises, promises.job_numbers, lasts)
    named = said["jobs"]
    only = None if named is None else [find_job(reading.session, each).id for each in named]
    if only is None:
        refuse_many(reading)
    found = evening(reading, terms_of(said), finishing=only)
    if only is not None:
        found.refuse_unfinished(only)
    promises = Promises.of(reading, found)
    if not promises.promises:
        raise Conflict(found.why_nothing)
    return _ToPromise(promises, [each.job.number for each in found.finishable if each.takes], lasts)


@blueprint.route("/tonight/reservations", methods=["POST"])
@blueprint.arguments(PromiseTonightSchema)
@blueprint.response(201, PromisedTonightSchema)
@beforehand(_to_promise)
def promise_tonight(body: dict[str, Any]) -> Any:
    """Promise a whole evening, some jobs of it, or a plan as it was shown: all of it or nothing."""
    found: _ToPromise = found_beforehand()
    made, moved = carry_out(work(), found.promises, body["note"], found.lasts)
    return {"jobs": found.jobs, "reservations": made, "moved": moved}


@blueprint.route("/evenings", methods=["POST"])
@blueprint.arguments(NewEveningSchema)
@blueprint.response(202, KeptEveningSchema)
@scope("read")
def begin_evening(body: dict[str, Any]) -> Any:
    """Begin to work out an evening of many jobs; look at it under the address that is answered."""

    def begun(session: Any) -> dict[str, Any]:
        return _shown(keeping.keep(work_in(session), EveningState.WORKING))

    shown, found = write_beside(begun), services()
    LongEvening(
        found.database,
        found.declared,
        found.clock,
        caller().actor,
        shown["plan"],
        terms_of(body),
        body["orders"],
        TonightSchema().dump,
    ).begin()
    return shown, 202, {"Location": f"/v1/evenings/{shown['plan']}"}


@blueprint.route("/evenings/<row:plan>")
@blueprint.response(200, KeptEveningSchema)
def get_evening(plan: int) -> Any:
    """Return how far an evening has come, and once it is ready what it is."""
    return _shown(keeping.find(work(), plan))


def _shown(row: KeptEvening) -> dict[str, Any]:
    state, why = keeping.state_of(work(), row)
    return {
        "plan": row.id,
        "state": state.value,
        "why": why,
        "made_at": row.made_at,
        "tonight": row.shown or None,
    }
