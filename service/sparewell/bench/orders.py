"""What is to be ordered: what open jobs lack, with the reason for each line."""

from __future__ import annotations

from typing import Any

from sparewell.bench.asking import address, every, get
from sparewell.bench.pages import blueprint, show


@blueprint.get("/to-order")
def orders_page() -> Any:
    """List what open jobs are short of, and what to ask a seller for."""
    pens = {pen["number"]: pen["called"] for pen in every("/v1/pens", "pens")}
    lines = []
    for job in every("/v1/jobs", "jobs", state="open"):
        plan = get(address("jobs", job["number"], "plan"))
        lines += [
            {"job": job["number"], "called": pens[job["pen"]], "need": need}
            for need in plan["needs"]
            if need["short"]
        ]
    return show("orders.html", lines=lines)
