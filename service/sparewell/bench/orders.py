"""What is to be ordered: what open jobs lack, with the reason for each line."""

from __future__ import annotations

from typing import Any

from sparewell.bench.asking import address, every, get
from sparewell.bench.jobs import pens_of
from sparewell.bench.pages import blueprint, show


@blueprint.get("/to-order")
def orders_page() -> Any:
    """List what open jobs are short of, and what to ask a seller for."""
    jobs = every("/v1/jobs", "jobs", state="open")
    pens = pens_of(jobs)
    lines = []
    for job in jobs:
        plan = get(address("jobs", job["number"], "plan"))
        lines += [
            {"job": job["number"], "called": pens[job["pen"]]["called"], "need": need}
            for need in plan["needs"]
            if need["short"]
        ]
    return show("orders.html", lines=lines)
