"""How pieces turned out, over HTTP: of a lot, in pens alike, in one pen."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, each, page_of, page_of_rows
from sparewell.lots import operations as lots
from sparewell.lots.tables import Lot
from sparewell.outcomes import operations as outcomes
from sparewell.outcomes.alike import alike, settings_of_likeness
from sparewell.outcomes.came_back import came_back
from sparewell.outcomes.contents import contents
from sparewell.outcomes.schemas import (
    AlikePageSchema,
    CameBackPageSchema,
    ContentPageSchema,
    NewOutcomeSchema,
    OutcomePageSchema,
    OutcomeSchema,
)
from sparewell.outcomes.showing import ShownOutcome, shown_contents, shown_sisters
from sparewell.outcomes.tables import Outcome
from sparewell.pens import operations as pens
from sparewell.pens.tables import Pen
from sparewell.reservations import operations as reservations
from sparewell.reservations.tables import Reservation

blueprint = Blueprint("outcomes", __name__, url_prefix="/v1", tag="under_way")
_FROM_AN_OUTCOME = {
    "lot": Link("get", "/v1/lots/{lot_id}/outcomes", {"lot_id": "$response.body#/lot"})
}


@blueprint.route("/reservations/<row:reservation_id>/outcomes", methods=["POST"])
@blueprint.arguments(NewOutcomeSchema)
@blueprint.response(201, OutcomeSchema, links=_FROM_AN_OUTCOME)
def add_outcome(body: dict[str, Any], reservation_id: int) -> Any:
    """Note how used pieces turned out; what was said before is kept, and the latest counts."""
    reservation = reservations.find_reservation(work().session, reservation_id)
    told = outcomes.add_outcome(work(), reservation, **body)
    (fitting,) = outcomes.fittings_of(work().session, Reservation.id == reservation.id)
    at = {"Location": f"/v1/lots/{fitting.lot.id}/outcomes"}
    return ShownOutcome(told, fitting), at


@blueprint.route("/lots/<row:lot_id>/outcomes")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, OutcomePageSchema)
def list_outcomes(arguments: dict[str, Any], lot_id: int) -> Any:
    """List how pieces of a lot and its family turned out, and the pens to look at next."""
    session = work().session
    family = outcomes.family_of(session, lots.find_lot(session, lot_id))
    fittings = outcomes.fittings_of(session, Lot.id.in_(family))
    by_reservation = {fitting.reservation.id: fitting for fitting in fittings}
    told = select(Outcome).join(Reservation, Reservation.id == Outcome.reservation_id)
    page = page_of(session, told.where(Reservation.lot_id.in_(family)), Outcome.id, arguments)
    body, headers = answer(
        "outcomes",
        page,
        each(lambda told: ShownOutcome(told, by_reservation[told.reservation_id])),
    )
    sisters = outcomes.sisters(fittings)
    shown = sisters[: outcomes.MOST_SISTERS]
    inside = contents(session, {sister.pen.id: sister.pen for sister in shown}.values())
    return body | {
        "sisters": shown_sisters(shown, inside),
        "sisters_left_out": len(sisters) - len(shown),
    }, headers


@blueprint.route("/outcomes/came-back")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, CameBackPageSchema)
def list_came_back(arguments: dict[str, Any]) -> Any:
    """List what failed in pens that were sold, while their warranty ran."""
    return answer("outcomes", page_of_rows(came_back(work().session), arguments))


def _pen(number: str) -> Pen:
    return pens.find_pen(work().session, number)


@blueprint.route("/pens/<identifier:number>/alike")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, AlikePageSchema)
def list_alike(arguments: dict[str, Any], number: str) -> Any:
    """List what pens like this one took, and how it turned out."""
    rows = alike(work(), _pen(number))
    body, headers = answer("alike", page_of_rows(rows, arguments))
    return body | {"settings": settings_of_likeness(work())}, headers


@blueprint.route("/pens/<identifier:number>/contents")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, ContentPageSchema)
def list_contents(arguments: dict[str, Any], number: str) -> Any:
    """List what is in a pen now: from which lot, since when, by whom."""
    pen = _pen(number)
    rows = contents(work().session, [pen])[pen.id]
    return answer(
        "contents",
        page_of_rows(rows, arguments),
        lambda some: shown_contents(work().declared, some),
    )
