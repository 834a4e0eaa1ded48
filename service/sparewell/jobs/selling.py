"""What became of a pen after its repair: sold on which day, for how much, with which warranty."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from sparewell.errors import Conflict, Impossible, Problem
from sparewell.jobs.tables import Job, JobState
from sparewell.pens.tables import Pen

OF_A_SALE: Final = ("sold_on", "price", "sold_to", "warranty_until")


def fetches(pen: Pen, job: Job | None) -> tuple[int, str] | None:
    """Return what a pen fetches, and where that is said: what it was sold for goes before all.

    None where nobody has said anything.
    """
    if job is not None and job.price_minor is not None:
        return job.price_minor, f"the price that {job.number} was sold for"
    if job is not None and job.value_as_restored_minor is not None:
        return job.value_as_restored_minor, f"the value as restored noted with {job.number}"
    if pen.might_fetch_minor is not None:
        return pen.might_fetch_minor, f"what {pen.number} might fetch"
    return None


def refuse_unsold(job: Job, said: Mapping[str, Any]) -> None:
    """Refuse to say of a job that is not closed what is said of a sale only."""
    sale = [name for name in OF_A_SALE if said.get(name) not in (None, "")]
    if sale and job.state != JobState.CLOSED:
        raise Conflict(
            f"{job.number} is {job.state}: what was sold is said of a closed job",
            [Problem(f"/{name}", "close the job first, then say so") for name in sale],
        )


def refuse_odd_warranty(job: Job) -> None:
    """Refuse a warranty without a sale, or that would end before it began."""
    if job.warranty_until is None:
        return
    if job.sold_on is None:
        raise Impossible.at("/warranty_until", "a warranty begins with the sale: say sold_on, too")
    if job.warranty_until < job.sold_on:
        raise Impossible.at(
            "/warranty_until",
            f"it would end on {job.warranty_until}, before the sale on {job.sold_on}",
        )
