"""What is to be ordered: by supplier, with the reason for each line, and what jobs lack besides."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import timedelta
from functools import partial
from typing import Any

from flask import request
from markupsafe import Markup

from sparewell.bench import stock_plot
from sparewell.bench.pages import Shown, blueprint, or_form_again, refuse_late, see, show
from sparewell.bench.stock_plot import StockChange
from sparewell.bench.typed import Typed, number_or_text, tag_of
from sparewell.catalogue.operations import find_part
from sparewell.catalogue.tables import Part
from sparewell.database.transaction import locked
from sparewell.edge.context import work
from sparewell.edge.errors import checked
from sparewell.edge.scopes import scope
from sparewell.ledger import courses
from sparewell.reorder.operations import ReorderLine, demand_of, reorder
from sparewell.reorder.planning import OrderPlan, plan_orders
from sparewell.reorder.policies import set_threshold
from sparewell.reorder.schemas import ChangedThresholdSchema, PlanArguments
from sparewell.reorder.thresholds import Threshold, threshold_history
from sparewell.settings.operations import present_values

MOST_LINES = 50
MOST_PLOTS = 20
NOBODY = ""


@blueprint.get("/to-order")
def orders_page() -> Shown:
    """List what must be ordered."""
    return _orders_page(Typed({}))


def _orders_page(form: Typed, plan: OrderPlan | None = None) -> Shown:
    found = reorder(work())
    lines = found.due[:MOST_LINES]
    plots = _plots(lines[:MOST_PLOTS])
    suppliers: dict[str, list[tuple[ReorderLine, Markup | None]]] = {}
    for line in lines:
        of = line.offer.supplier.name if line.offer else NOBODY
        suppliers.setdefault(of, []).append((line, plots.get(line.part.id)))
    page = show(
        "orders.html",
        suppliers=suppliers,
        is_cut_off=len(found.due) > MOST_LINES,
        unmatched=found.unmatched,
        notes=found.notes,
        plan=plan,
        form=form,
    )
    return page, form.status


def _plots(lines: Iterable[ReorderLine]) -> Mapping[int, Markup]:
    """Return by part how many there were over half a year, against its threshold."""
    session, now = work().session, work().now
    parts = {line.part.id: line for line in lines}
    in_hand = courses.in_hand_of_parts(session, parts)
    since = now - timedelta(weeks=stock_plot.WEEKS)
    changes = courses.changes_of_parts(session, parts, since)
    plots = {}
    for part, line in parts.items():
        went = [StockChange(*change) for change in changes.get(part, ())]
        stock = stock_plot.weekly(now, in_hand.get(part, 0), went)
        decision = line.ruling.decision
        threshold = decision.reorder_point if decision else None
        plots[part] = stock_plot.drawn(stock, threshold, line.part.number)
    return plots


@blueprint.post("/to-order")
@scope("read")
def least_order() -> Shown:
    """Work out which supplier gets what, at the least total."""
    with or_form_again(_orders_page, Typed({})):
        plan = plan_orders(work(), None, **checked(PlanArguments(), {}))
    return _orders_page(Typed({}), plan)


@blueprint.get("/to-order/<identifier:part>")
def threshold_page(part: str) -> Shown:
    """Show when a part is to be ordered, and what was said of it before."""
    return _threshold_page(part, Typed({}))


def _said_of(part: Part) -> Sequence[Threshold]:
    return threshold_history(work(), part.id)


def _threshold_page(number: str, form: Typed) -> Shown:
    part = find_part(work().session, number)
    said, policies = _said_of(part), work().declared.reorder_policies
    page = show(
        "threshold.html",
        part=part,
        threshold=said[-1] if said and said[-1].policy else None,
        history=said,
        tag=_tag(said),
        policies={name: _begun_small(policy.title) for name, policy in policies.items()},
        form=form,
    )
    return page, form.status


def _begun_small(title: str) -> str:
    return title[:1].lower() + title[1:]


def _tag(said: Sequence[Threshold]) -> str:
    return tag_of(len(said), said[-1] if said else None)


@blueprint.post("/to-order/<identifier:part>")
def change_threshold(part: str) -> Shown:
    """Say when a part is to be ordered, with the reason."""
    form, page = Typed(request.form), partial(_threshold_page, part)
    row = locked(work().session, find_part(work().session, part))
    refuse_late(page, form, _tag(_said_of(row)))
    with or_form_again(page, form):
        said = {"policy": form["policy"] or None, "parameters": _figure(form), "why": form["why"]}
        body = checked(ChangedThresholdSchema(), said)
        settings = present_values(work().session, work().declared)
        demand = demand_of(work(), row, settings)
        set_threshold(work(), row.id, demand=demand, settings=settings, **body)
    return see(f"/to-order/{part}", said="changed")


def _figure(form: Typed) -> dict[str, Any]:
    """Return the one figure as the parameter that its policy asks for first."""
    policy = work().declared.reorder_policies.get(form["policy"])
    if policy is None or not form["figure"] or not policy.asks_first:
        return {}
    return {policy.asks_first: number_or_text(form["figure"])}
