"""Plans and promises over HTTP, and every verb of a reservation."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import request

from sparewell.edge.api import Blueprint, Link
from sparewell.edge.beforehand import beforehand, found_beforehand
from sparewell.edge.context import work
from sparewell.edge.schema import Empty, Schema
from sparewell.handling.schemas import UndoingSchema, UndoSchema
from sparewell.jobs import operations as jobs
from sparewell.jobs.costs import ceiling_warnings
from sparewell.jobs.schemas import JobSchema
from sparewell.jobs.showing import shown_job
from sparewell.outcomes.alike import alike
from sparewell.plans import moving, reserving, spoiling, undoing
from sparewell.plans.naming import NamedLot
from sparewell.plans.planning import plan_beside_others
from sparewell.plans.schemas import (
    NewReservationSchema,
    PlanSchema,
    ReservationsSchema,
    SpoiledSchema,
    SpoilSchema,
)
from sparewell.plans.showing import ShownNext, ShownSpoiled, shown_needs
from sparewell.reservations import operations as reservations
from sparewell.reservations.schemas import ReservationSchema, UseSchema, VerbSchema
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

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
    plan, past = plan_beside_others(work(), job), alike(work(), job.pen)
    return {
        "job": job.number,
        "needs": shown_needs(work(), job, plan.needs, past),
        "complete": plan.complete,
        "would_move": reserving.would_move(work(), job, plan),
        "cautions": plan.cautions,
    }


def _to_reserve(reading: Work, number: str) -> reserving.BestSet | NamedLot:
    said = blueprint.ARGUMENTS_PARSER.parse(NewReservationSchema, request, location="json")
    return reserving.prepare(reading, jobs.find_job(reading.session, number), said)


@blueprint.route("/jobs/<identifier:number>/reservations", methods=["POST"])
@blueprint.arguments(NewReservationSchema)
@blueprint.response(201, ReservationsSchema, links=_FROM_RESERVATIONS)
@beforehand(_to_reserve)
def add_reservations(body: dict[str, Any], number: str) -> Any:  # noqa: ARG001 - it was read before
    """Reserve the best set for all open needs, or pieces of a named lot: all of it or nothing."""
    found = found_beforehand()
    made = reserving.promise(work(), found, body)
    costs = ceiling_warnings(work().session, found.job)
    return {
        "reservations": made.reservations,
        "warnings": [*costs, *made.warnings],
        "moved": made.moved,
    }


def _to_move_back(reading: Work, reservation_id: int) -> moving.MovingBack:
    return moving.prepare_back(reading, reservation_id)


@blueprint.route("/reservations/<row:reservation_id>/move-back", methods=["POST"], tags=["stock"])
@blueprint.arguments(Empty)
@blueprint.response(201, ReservationSchema)
@beforehand(_to_move_back)
def move_back(_body: dict[str, Any], reservation_id: int) -> Any:  # noqa: ARG001 - it was read before
    """Let a promise that moved aside have its old pieces again, where these are free."""
    return moving.move_back(work(), found_beforehand())


@blueprint.route(
    "/jobs/<identifier:number>/moved/<row:reservation_id>/read", methods=["POST"], tags=["repairs"]
)
@blueprint.arguments(Empty)
@blueprint.response(200, JobSchema)
def read_move(_body: dict[str, Any], number: str, reservation_id: int) -> Any:
    """Note that somebody has read of a promise that moved, of this job or for it."""
    job = jobs.find_job(work().session, number)
    moving.read_move(work(), job, reservation_id)
    return shown_job(work(), job)


def _add_verb(
    verb: str, act: Callable[..., Reservation], summary: str, schema: type[Schema] = VerbSchema
) -> None:
    @blueprint.arguments(schema)
    @blueprint.response(200, ReservationSchema)
    def view(body: dict[str, Any], reservation_id: int) -> Any:
        return act(work(), reservation_id, body.pop("quantity", None), **body)

    view.__doc__ = summary
    blueprint.add_url_rule(
        f"/reservations/<row:reservation_id>/{verb}",
        f"{verb}_reservation",
        view,
        methods=["POST"],
        tags=["stock"],
    )


_add_verb("fetch", reservations.fetch, "Put held pieces into the job's tray; they cannot lapse.")
_add_verb("use", reservations.use, "Fit pieces: they leave the stock for good.", UseSchema)
_add_verb("release", reservations.release, "Give up promised pieces.")


def _to_spoil(reading: Work, reservation_id: int) -> spoiling.Spoiling | None:
    said = blueprint.ARGUMENTS_PARSER.parse(SpoilSchema, request, location="json")
    said.pop("note")
    return spoiling.prepare(reading, reservation_id, **said)


@blueprint.route("/reservations/<row:reservation_id>/spoil", methods=["POST"], tags=["job_plans"])
@blueprint.arguments(SpoilSchema)
@blueprint.response(200, SpoiledSchema)
@beforehand(_to_spoil)
def spoil_reservation(body: dict[str, Any], reservation_id: int) -> Any:
    """Write off pieces ruined at fitting; the need reopens, and what would do next is offered."""
    found = found_beforehand()
    reservation, following = spoiling.spoil(work(), found, reservation_id, **body)
    return ShownSpoiled(reservation, ShownNext(following))


def _to_undo(reading: Work, group_id: int) -> undoing.Undoing | None:
    return undoing.prepare(reading, group_id)


@blueprint.route("/movements/<row:group_id>/undo", methods=["POST"], tags=["job_plans"])
@blueprint.arguments(UndoSchema)
@blueprint.response(200, UndoingSchema)
@beforehand(_to_undo)
def undo(body: dict[str, Any], group_id: int) -> Any:
    """Undo a group of movements by its opposite."""
    movements = undoing.undo(work(), found_beforehand(), group_id, body["note"])
    return {
        "group": movements[0].act_id,
        "undoes": group_id,
        "movements": movements,
    }
