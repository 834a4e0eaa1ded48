"""What is to be ordered, thresholds of parts, and the least order."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sparewell.catalogue.operations import find_part
from sparewell.database.transaction import locked
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of_rows
from sparewell.edge.scopes import scope
from sparewell.reorder.operations import demand_of, reorder
from sparewell.reorder.planning import plan_orders
from sparewell.reorder.policies import set_threshold, shown_threshold
from sparewell.reorder.schemas import (
    ChangedThresholdSchema,
    OrderPlanSchema,
    PlanArguments,
    PlanRequestSchema,
    ReorderArguments,
    ReorderPageSchema,
    ThresholdSchema,
)
from sparewell.settings.operations import present_values
from sparewell.suppliers.operations import part_named

blueprint = Blueprint("reorder", __name__, url_prefix="/v1", tag="reordering")


@blueprint.route("/reorder")
@blueprint.arguments(ReorderArguments, location="query")
@blueprint.response(200, ReorderPageSchema)
def list_reorder(arguments: dict[str, Any]) -> Any:
    """List what is to be ordered, promises and age netted."""
    found = reorder(work())
    lines = found.lines if arguments.get("all") == "true" else found.due
    body, headers = answer("lines", page_of_rows(lines, arguments))
    unmatched = [asdict(each) for each in found.unmatched]
    return body | {
        "unmatched": unmatched,
        "not_judged": found.not_judged,
        "notes": found.notes,
    }, headers


@blueprint.route("/parts/<identifier:number>/threshold")
@blueprint.etag
@blueprint.response(200, ThresholdSchema)
def get_threshold(number: str) -> Any:
    """Return when a part is to be ordered, and all that was said of it."""
    return shown_threshold(work(), find_part(work().session, number))


@blueprint.route("/parts/<identifier:number>/threshold", methods=["PATCH"])
@blueprint.arguments(ChangedThresholdSchema)
@blueprint.etag
@blueprint.response(200, ThresholdSchema)
def patch_threshold(body: dict[str, Any], number: str) -> Any:
    """Say when a part is to be ordered; what was said before stays as history."""
    part = locked(work().session, find_part(work().session, number))
    blueprint.check_etag(shown_threshold(work(), part), ThresholdSchema)
    settings = present_values(work().session, work().declared)
    demand = demand_of(work(), part, settings)
    set_threshold(work(), part.id, demand=demand, settings=settings, **body)
    return shown_threshold(work(), part)


def options_of_a_plan() -> Any:
    """Say what the address takes; Flask by itself would add what the address of an order takes."""
    return "", 200, {"Allow": "OPTIONS, POST"}


# It stands before the plan itself, whose own answer to OPTIONS would come first otherwise.
blueprint.add_undocumented_rule("/orders/plan", options_of_a_plan, "OPTIONS")


@blueprint.route("/orders/plan", methods=["POST"])
@blueprint.arguments(PlanRequestSchema)
@blueprint.arguments(PlanArguments, location="query")
@blueprint.response(200, OrderPlanSchema)
@scope("read")
def plan_order(body: dict[str, Any], arguments: dict[str, Any]) -> Any:
    """Plan the least order for these pieces, or for all that is due. Orders nothing."""
    wanted = None
    if "lines" in body:
        wanted = [
            (part_named(work(), line["part"], f"/lines/{place}/part"), line["quantity"])
            for place, line in enumerate(body["lines"])
        ]
    return plan_orders(work(), wanted, arguments["wait_days"])
