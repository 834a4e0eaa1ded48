"""Spoiling and undoing over HTTP; how a plan's advice, and what comes next, are shown."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.repairs import spoiling, undoing
from sparewell.repairs.advising import Deciding, NeedAdvice, Other
from sparewell.repairs.job_plans.schemas import SpoiledSchema, SpoilSchema
from sparewell.repairs.spoiling import Next, Offer
from sparewell.stock import reservations
from sparewell.stock.handling.schemas import UndoingSchema, UndoSchema
from sparewell.stock.views import show_movement, show_reservation

blueprint = Blueprint(
    "job_plans", __name__, url_prefix="/v1", description="What comes after a spoiled piece; undoing"
)


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


def _show_offer(found: Next, offer: Offer) -> dict[str, Any]:
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


@blueprint.route("/reservations/<row:reservation_id>/spoil", methods=["POST"])
@blueprint.arguments(SpoilSchema)
@blueprint.response(200, SpoiledSchema)
def spoil_reservation(body: dict[str, Any], reservation_id: int) -> Any:
    """Write off pieces ruined at fitting; the need reopens, and what would do next is offered."""
    reservation = reservations.find_reservation(work().session, reservation_id)
    act = spoiling.spoil_and_reserve if body["reserve_next"] else spoiling.spoil
    reservation, found = act(work(), reservation, body.get("quantity"), body["note"])
    return show_reservation(reservation) | {"next": _show_next(found)}


@blueprint.route("/movements/<row:group_id>/undo", methods=["POST"])
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
