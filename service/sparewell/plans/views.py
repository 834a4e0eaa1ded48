"""Plans and promises over HTTP, and every verb of a reservation."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.handling.schemas import UndoingSchema, UndoSchema
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import cost_warnings, parts_costs
from sparewell.outcomes.alike import alike
from sparewell.plans import reserving, spoiling, undoing
from sparewell.plans.planning import plan_job
from sparewell.plans.schemas import (
    NewReservationSchema,
    PlanSchema,
    ReservationsSchema,
    SpoiledSchema,
    SpoilSchema,
)
from sparewell.plans.showing import ShownNext, ShownSpoiled, shown_needs
from sparewell.reservations import operations as reservations
from sparewell.reservations.schemas import ReservationSchema, VerbSchema
from sparewell.reservations.tables import Reservation

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
        "needs": shown_needs(work(), job, plan.needs, past),
        "complete": plan.complete,
        "cautions": plan.cautions,
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
        "reservations": made,
        "warnings": [*cost_warnings(job, costs), *reserving.warnings_of(work(), made)],
    }


def _add_verb(verb: str, act: Callable[..., Reservation], summary: str) -> None:
    @blueprint.arguments(VerbSchema)
    @blueprint.response(200, ReservationSchema)
    def view(body: dict[str, Any], reservation_id: int) -> Any:
        reservation = reservations.find_reservation(work().session, reservation_id)
        return act(work(), reservation, body.get("quantity"), body["note"])

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
    return ShownSpoiled(reservation, ShownNext(found))


@blueprint.route("/movements/<row:group_id>/undo", methods=["POST"], tags=["job_plans"])
@blueprint.arguments(UndoSchema)
@blueprint.response(200, UndoingSchema)
def undo(body: dict[str, Any], group_id: int) -> Any:
    """Undo a group of movements by its opposite."""
    movements = undoing.undo(work(), group_id, body["note"])
    return {
        "group": movements[0].act_id,
        "undoes": group_id,
        "movements": movements,
    }
