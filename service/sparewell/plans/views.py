"""Plans and promises over HTTP, and every verb of a reservation."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.fitting.operations import DEFAULT_LIMIT
from sparewell.fitting.views import show_candidate, show_refused
from sparewell.handling.schemas import UndoingSchema, UndoSchema
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import cost_warnings, parts_costs
from sparewell.jobs.tables import Job
from sparewell.ledger.views import show_movement
from sparewell.outcomes import showing
from sparewell.outcomes.alike import PastSize, alike
from sparewell.plans import reserving, spoiling, undoing
from sparewell.plans.advising import Deciding, NeedAdvice, Other, advise
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.planning import plan_job
from sparewell.plans.schemas import (
    NewReservationSchema,
    PlanSchema,
    ReservationsSchema,
    SpoiledSchema,
    SpoilSchema,
)
from sparewell.plans.spoiling import Next, OfferedPiece
from sparewell.reservations import operations as reservations
from sparewell.reservations.schemas import ReservationSchema, VerbSchema
from sparewell.reservations.tables import Reservation
from sparewell.reservations.views import show_reservation

blueprint = Blueprint("plans", __name__, url_prefix="/v1", tag="repairs")
_THE_FIRST = {"reservation_id": "$response.body#/reservations/0/id"}
_FROM_RESERVATIONS = {
    "read": Link("get", "/v1/reservations/{reservation_id}", _THE_FIRST),
    **{
        verb: Link("post", f"/v1/reservations/{{reservation_id}}/{verb}", _THE_FIRST)
        for verb in ("fetch", "use", "release", "spoil")
    },
}


@blueprint.route("/jobs/<identifier:number>/plan")
@blueprint.response(200, PlanSchema)
def get_plan(number: str) -> Any:
    """Work out which pieces a job can have, what is short, and what to mind. Takes nothing."""
    job = jobs.find_job(work().session, number)
    plan, past = plan_job(work(), job), alike(work(), job.pen)
    return {
        "job": job.number,
        "needs": [_show_need_plan(job, need, past) for need in plan.needs],
        "complete": plan.complete,
        "cautions": plan.cautions,
    }


def _show_need_plan(job: Job, plan: NeedPlan, past: list[PastSize]) -> dict[str, Any]:
    found = plan.found
    return show_advice(advise(work(), job, plan)) | {
        "id": plan.need.id,
        "kind": plan.need.kind,
        "quantity": plan.cover.wanted(plan.need),
        "calculator": plan.need.calculator,
        "optional": plan.need.optional,
        "state": plan.cover.state(plan.need),
        "result": found.calculation.result if found else None,
        "candidates": [show_candidate(each) for each in found.candidates[:DEFAULT_LIMIT]]
        if found
        else [],
        "refused": [show_refused(each) for each in found.refused] if found else [],
        "best": [{"lot": taking.lot_id, "quantity": taking.quantity} for taking in plan.best],
        "short": plan.short,
        "to_buy": plan.to_buy,
        "missing": plan.missing,
        "readings": plan.readings,
        "paired_with": plan.paired_with,
        "problem": plan.trouble,
        "warnings": plan.every_warning,
        "alike": [showing.past_size(each) for each in past if each.kind == plan.need.kind],
    }


def show_advice(advice: NeedAdvice) -> dict[str, Any]:
    """Return what is said of a need beside its pieces as its schema shows it."""
    return {
        "recommendation": advice.recommendation,
        "substitutes": [_show_other(other) for other in advice.substitutes],
        "to_order": advice.to_order,
        "to_make": [
            {
                "lot": each.lot.id,
                "place": each.lot.place.code,
                "pieces": each.pieces,
                "says": each.says,
            }
            for each in advice.to_make
        ],
        "would_decide": [_show_deciding(each) for each in advice.would_decide],
    }


def _show_other(other: Other) -> dict[str, Any]:
    lot = other.lot
    return {
        "what": other.what,
        "lot": lot.id if lot else None,
        "place": lot.place.code if lot else None,
        "available": lot.available if lot else None,
        "verdict": other.verdict.value if other.verdict else None,
        "material": lot.material if lot else None,
        "capacity_less_ml": _figure(other.price.capacity_less_ml),
        "capacity_less_percent": _figure(other.price.capacity_less_percent),
        "stretch_percent": _figure(other.price.stretch_percent),
        "fit_by": other.fit_by,
        "months_left": other.months_left,
        "over_age": other.over_age,
        "why": other.why,
    }


def _figure(number: Decimal | None) -> float | None:
    return None if number is None else float(number)


def _show_deciding(each: Deciding) -> dict[str, Any]:
    reading = each.reading
    return {
        "name": reading.name,
        "title": reading.title,
        "instrument": reading.instrument,
        "how": reading.how,
        "traps": reading.traps,
        "settles": each.settles,
        "taken": each.is_taken,
        "why": each.why,
    }


@blueprint.route("/jobs/<identifier:number>/reservations", methods=["POST"])
@blueprint.arguments(NewReservationSchema)
@blueprint.response(201, ReservationsSchema, links=_FROM_RESERVATIONS)
def add_reservations(body: dict[str, Any], number: str) -> Any:
    """Reserve the best set for all open needs, or pieces of a named lot: all of it or nothing."""
    job = jobs.find_job(work().session, number)
    made = reserving.reserve(work(), job, **body)
    costs = parts_costs(work().session, [job])[job.id]
    return {
        "reservations": [show_reservation(reservation) for reservation in made],
        "warnings": [*cost_warnings(job, costs), *reserving.warnings_of(work(), made)],
    }


def _add_verb(verb: str, act: Callable[..., Reservation], summary: str) -> None:
    @blueprint.arguments(VerbSchema)
    @blueprint.response(200, ReservationSchema)
    def view(body: dict[str, Any], reservation_id: int) -> Any:
        reservation = reservations.find_reservation(work().session, reservation_id)
        return show_reservation(act(work(), reservation, body.get("quantity"), body["note"]))

    view.__doc__ = summary
    blueprint.add_url_rule(
        f"/reservations/<row:reservation_id>/{verb}",
        f"{verb}_reservation",
        view,
        methods=["POST"],
        tags=["stock"],
    )


_add_verb("fetch", reservations.fetch, "Put held pieces into the job's tray; they cannot lapse.")
_add_verb("use", reservations.use, "Fit pieces: they leave the stock for good.")
_add_verb("release", reservations.release, "Give up promised pieces.")


@blueprint.route("/reservations/<row:reservation_id>/spoil", methods=["POST"], tags=["job_plans"])
@blueprint.arguments(SpoilSchema)
@blueprint.response(200, SpoiledSchema)
def spoil_reservation(body: dict[str, Any], reservation_id: int) -> Any:
    """Write off pieces ruined at fitting; the need reopens, and what would do next is offered."""
    reservation = reservations.find_reservation(work().session, reservation_id)
    act = spoiling.spoil_and_reserve if body["reserve_next"] else spoiling.spoil
    reservation, found = act(work(), reservation, body.get("quantity"), body["note"])
    return show_reservation(reservation) | {"next": _show_next(found)}


def _show_next(found: Next) -> dict[str, Any]:
    return {
        "need": found.need.id if found.need else None,
        "kind": found.kind,
        "lacks": found.lacks,
        "reserved": [show_reservation(row) for row in found.reserved],
        "pieces": [_show_offer(found, offer) for offer in found.offers],
        "to_order": found.to_order,
        "why": found.why,
    }


def _show_offer(found: Next, offer: OfferedPiece) -> dict[str, Any]:
    body = {"lot": offer.lot.id, "quantity": min(found.lacks, offer.lot.available)}
    if found.need is not None:
        body["need"] = found.need.id
    return {
        "lot": offer.lot.id,
        "place": offer.lot.place.code,
        "available": offer.lot.available,
        "verdict": offer.verdict.value if offer.verdict else None,
        "why": offer.why,
        "reserve": {"path": f"/v1/jobs/{found.job.number}/reservations", "body": body},
    }


@blueprint.route("/movements/<row:group_id>/undo", methods=["POST"], tags=["job_plans"])
@blueprint.arguments(UndoSchema)
@blueprint.response(200, UndoingSchema)
def undo(body: dict[str, Any], group_id: int) -> Any:
    """Undo a group of movements by its opposite."""
    movements = undoing.undo(work(), group_id, body["note"])
    return {
        "group": movements[0].act_id,
        "undoes": group_id,
        "movements": [show_movement(movement) for movement in movements],
    }
