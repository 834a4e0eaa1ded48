"""What is to be ordered, thresholds of parts, and the least order."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from sparewell.catalogue.operations import find_part
from sparewell.catalogue.tables import Part
from sparewell.database.transaction import locked
from sparewell.edge.api import Blueprint
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of_rows
from sparewell.edge.scopes import scope
from sparewell.reorder.operations import ReorderLine, demand_of, reorder
from sparewell.reorder.planning import OrderPlan, PlannedLine, PlannedOrder, plan_orders
from sparewell.reorder.policies import set_threshold
from sparewell.reorder.schemas import (
    ChangedThresholdSchema,
    OrderPlanSchema,
    PlanArguments,
    PlanRequestSchema,
    ReorderArguments,
    ReorderPageSchema,
    ThresholdSchema,
)
from sparewell.reorder.thresholds import threshold_history
from sparewell.settings.operations import present_values
from sparewell.suppliers.operations import part_named

blueprint = Blueprint("reorder", __name__, url_prefix="/v1", tag="reordering")


def _show_line(line: ReorderLine) -> dict[str, Any]:
    decision = line.ruling.decision
    level = decision.achieved_level if decision else None
    return {
        "part": line.part.number,
        "name": line.part.name,
        "available": line.available,
        "promised": line.promised,
        "over_age": line.over_age,
        "on_order": line.on_order,
        "wanted_by_jobs": line.wanted.pieces,
        "short": line.wanted.short,
        "jobs": line.wanted.jobs,
        "reorder_point": decision.reorder_point if decision else None,
        "order_up_to": decision.order_up_to if decision else None,
        "order_quantity": line.order_quantity,
        "capped_at": line.capped_at,
        "policy": line.ruling.policy,
        "achieved_level": None if level is None else float(level),
        "history": line.demand.history,
        "lead_days": int(line.demand.lead_days),
        "supplier": line.offer.supplier_id if line.offer else None,
        "why": line.why,
    }


@blueprint.route("/reorder")
@blueprint.arguments(ReorderArguments, location="query")
@blueprint.response(200, ReorderPageSchema)
def list_reorder(arguments: dict[str, Any]) -> Any:
    """List what is to be ordered, promises and age netted."""
    found = reorder(work())
    lines = found.lines if arguments.get("all") == "true" else found.due
    body, headers = answer("lines", page_of_rows(lines, arguments), _show_line)
    unmatched = [asdict(each) for each in found.unmatched]
    return body | {
        "unmatched": unmatched,
        "not_judged": found.not_judged,
        "notes": found.notes,
    }, headers


def _show_threshold(part: Part) -> dict[str, Any]:
    history = threshold_history(work(), part.id)
    latest = history[-1] if history else None
    return {
        "part": part.number,
        "policy": latest.policy if latest else None,
        "parameters": latest.parameters if latest else {},
        "history": [asdict(each) for each in history],
    }


@blueprint.route("/parts/<identifier:number>/threshold")
@blueprint.etag
@blueprint.response(200, ThresholdSchema)
def get_threshold(number: str) -> Any:
    """Return when a part is to be ordered, and all that was said of it."""
    return _show_threshold(find_part(work().session, number))


@blueprint.route("/parts/<identifier:number>/threshold", methods=["PATCH"])
@blueprint.arguments(ChangedThresholdSchema)
@blueprint.etag
@blueprint.response(200, ThresholdSchema)
def patch_threshold(body: dict[str, Any], number: str) -> Any:
    """Say when a part is to be ordered; what was said before stays as history."""
    part = locked(work().session, find_part(work().session, number))
    blueprint.check_etag(_show_threshold(part), ThresholdSchema)
    settings = present_values(work().session, work().declared)
    demand = demand_of(work(), part, settings)
    set_threshold(work(), part.id, demand=demand, settings=settings, **body)
    return _show_threshold(part)


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
    return _show_plan(plan_orders(work(), wanted, arguments["wait_days"]))


def _show_plan(plan: OrderPlan) -> dict[str, Any]:
    return {
        "orders": [_show_order(order) for order in plan.orders],
        "total": plan.total,
        "plain": plan.is_plain,
        "proven": plan.answer.is_proven,
        "gap": plan.answer.gap,
        "how": plan.answer.how,
        "unoffered": [_wanted(part, pieces) for part, pieces in plan.unoffered],
        "waiting": {
            "days": plan.waiting.days,
            "joining": [_wanted(part, pieces) for part, pieces in plan.waiting.joining],
            "saves": plan.waiting.saves,
            "how": plan.waiting.how,
        },
        "notes": plan.notes,
    }


def _wanted(part: Part, pieces: int) -> dict[str, Any]:
    return {"part": part.number, "quantity": pieces}


def _show_order(order: PlannedOrder) -> dict[str, Any]:
    return {
        "supplier": order.supplier.id,
        "supplier_name": order.supplier.name,
        "lines": [_show_planned(line) for line in order.lines],
        "goods": order.bill.goods,
        "postage": order.bill.postage,
        "total": order.bill.goods + order.bill.postage,
        "minimum_order": order.supplier.minimum_order_minor,
        "minimum_met": order.minimum_met,
    }


def _show_planned(line: PlannedLine) -> dict[str, Any]:
    return {
        "part": line.offer.part.number if line.offer.part else "",
        "offer": line.offer.id,
        "item_number": line.offer.item_number,
        "packs": line.packs,
        "pack_pieces": line.offer.pack_pieces,
        "pieces": line.pieces,
        "wanted": line.wanted,
        "price": line.price,
        "cost": line.packs * line.price,
    }
