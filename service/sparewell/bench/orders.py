"""What is to be ordered: by supplier, with the reason for each line, and what jobs lack besides."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from flask import request

from sparewell.bench import stock_plot
from sparewell.bench.asking import Refused, address, ask, change, every, get
from sparewell.bench.pages import blueprint, form_key, see, show
from sparewell.bench.typed import number_or_text
from sparewell.edge.context import services

# Each rule as it is said, and which of its parameters the one figure is.
RULES = {
    "keep_at_least": ("keep at least so many", "pieces"),
    "poisson": ("by how often it is wanted", "service_level"),
    "normal": ("by a steady stream of wishes", "service_level"),
    "intermittent": ("for what is seldom wanted", "service_level"),
}
MOST_LINES = 50
MOST_PLOTS = 20
NOBODY = ""


@blueprint.get("/to-order")
def orders_page() -> Any:
    """List what must be ordered."""
    return _orders_page()


def _orders_page(plan: Any = None, refusal: Refused | None = None) -> Any:
    page = get("/v1/reorder", limit=MOST_LINES)
    now = services().clock()
    names = {each["id"]: each["name"] for each in every("/v1/suppliers", "suppliers")}
    suppliers: dict[str, list[dict[str, Any]]] = {}
    for place, line in enumerate(page["lines"]):
        drawn = _plot(now, line) if place < MOST_PLOTS else None
        of = suppliers.setdefault(names.get(line["supplier"], NOBODY), [])
        of.append({**line, "plot": drawn})
    shown = show(
        "orders.html",
        suppliers=suppliers,
        is_cut_off=page["next"] is not None,
        unmatched=page["unmatched"],
        notes=page["notes"],
        plan=plan,
        refusal=refusal,
    )
    return shown, refusal.status if refusal else 200


def _plot(now: datetime, line: dict[str, Any]) -> Any:
    """Return how many of a part there were over half a year, against its threshold."""
    since = now - timedelta(weeks=stock_plot.WEEKS)
    lots = every("/v1/lots", "lots", part=line["part"])
    changes = [
        stock_plot.Change(datetime.fromisoformat(move["at"]), move["change"])
        for lot in lots
        for move in every(
            "/v1/movements", "movements", lot=lot["id"], since=since.date().isoformat()
        )
    ]
    stock = stock_plot.weekly(now, sum(lot["in_hand"] for lot in lots), changes)
    return stock_plot.drawn(stock, line["reorder_point"], line["part"])


@blueprint.post("/to-order")
def least_order() -> Any:
    """Work out which supplier gets what, at the least total."""
    try:
        plan = ask("POST", "/v1/orders/plan", {}, key=form_key()).document
    except Refused as refusal:
        return _orders_page(refusal=refusal)
    return _orders_page(plan)


@blueprint.get("/to-order/<part>")
def threshold_page(part: str) -> Any:
    """Show when a part is to be ordered, and what was said of it before."""
    return _threshold_page(part)


def _threshold_page(number: str, refusal: Refused | None = None) -> Any:
    found = ask("GET", address("parts", number, "threshold"))
    page = show(
        "threshold.html",
        part=get(address("parts", number)),
        threshold=found.document,
        tag=found.tag,
        rules=RULES,
        rules_said=[(name, said) for name, (said, _) in RULES.items()],
        refusal=refusal,
        faults=refusal.by_field() if refusal else {},
        typed=request.form,
    )
    return page, refusal.status if refusal else 200


@blueprint.post("/to-order/<part>")
def change_threshold(part: str) -> Any:
    """Say when a part is to be ordered, with the reason."""
    policy = request.form.get("policy", "")
    number = request.form.get("figure", "").strip()
    body: dict[str, Any] = {
        "policy": policy or None,
        "parameters": {},
        "why": request.form.get("why", "").strip(),
    }
    if policy and number:
        body["parameters"] = {RULES[policy][1]: number_or_text(number)} if policy in RULES else {}
    try:
        change(address("parts", part, "threshold"), body, request.form.get("tag"))
    except Refused as refusal:
        return _threshold_page(part, refusal)
    return see(f"/to-order/{part}", said="changed")
