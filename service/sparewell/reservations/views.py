"""Reservations over HTTP. What is done with them is in `plans`, which knows what comes next."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, select

from sparewell.database.numbers import JOB_PREFIX, id_of
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.reservations import operations as reservations
from sparewell.reservations.schemas import (
    ChangedReservationSchema,
    ReservationArguments,
    ReservationPageSchema,
    ReservationSchema,
)
from sparewell.reservations.tables import Reservation, ReservationState

blueprint = Blueprint("reservations", __name__, url_prefix="/v1", tag="stock")


@blueprint.route("/reservations")
@blueprint.arguments(ReservationArguments, location="query")
@blueprint.response(200, ReservationPageSchema)
def list_reservations(arguments: dict[str, Any]) -> Any:
    """List the reservations."""
    statement = select(Reservation)
    if "lot" in arguments:
        statement = statement.where(Reservation.lot_id == arguments["lot"])
    if "job" in arguments:
        job_id = id_of(JOB_PREFIX, arguments["job"])
        statement = statement.where(Reservation.job_id == job_id)
    if "state" in arguments:
        statement = statement.where(_in_state(arguments["state"]))
    page = page_of(work().session, statement, Reservation.id, arguments)
    return answer("reservations", page)


def _in_state(state: str) -> ColumnElement[bool]:
    still_promised = Reservation.promised > 0
    match state:
        case ReservationState.HELD:
            return still_promised & (Reservation.in_tray < Reservation.promised)
        case ReservationState.IN_TRAY:
            return still_promised & (Reservation.in_tray == Reservation.promised)
        case _:
            return Reservation.ended_as == state


@blueprint.route("/reservations/<row:reservation_id>")
@blueprint.etag
@blueprint.response(200, ReservationSchema)
def get_reservation(reservation_id: int) -> Any:
    """Return one reservation."""
    return reservations.find_reservation(work().session, reservation_id)


@blueprint.route("/reservations/<row:reservation_id>", methods=["PATCH"])
@blueprint.arguments(ChangedReservationSchema)
@blueprint.etag
@blueprint.response(200, ReservationSchema)
def patch_reservation(body: dict[str, Any], reservation_id: int) -> Any:
    """Say whether a promise stays where it is, or may move aside for another job."""
    reservation = reservations.standing(work(), reservation_id)
    blueprint.check_etag(reservation, ReservationSchema)
    return reservations.change(work(), reservation, body)
