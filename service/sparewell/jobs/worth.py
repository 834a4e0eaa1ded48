"""Whether a repair is worth it: what pen, parts, time and postage cost, against what it fetches."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sparewell.extend.settings import settings_used
from sparewell.jobs.costs import PartsCost
from sparewell.jobs.selling import fetches
from sparewell.jobs.settings import HOURLY_RATE
from sparewell.jobs.tables import Job
from sparewell.measure.money import MINOR_PER_MAJOR
from sparewell.settings.operations import present_values
from sparewell.work import Work

MINUTES_PER_HOUR = 60


@dataclass(frozen=True)
class WorthLine:
    """One cost in the smallest unit, None where it is not known, and where it comes from."""

    name: str
    amount_minor: int | None
    source: str


@dataclass(frozen=True)
class Worth:
    """The sum of what is known, and what is missing from it."""

    lines: tuple[WorthLine, ...]
    fetches: tuple[int, str] | None
    missing: tuple[str, ...]
    settings: tuple[dict[str, object], ...]

    @property
    def total_minor(self) -> int:
        """What is known of the costs, added up."""
        return sum(line.amount_minor or 0 for line in self.lines)

    @property
    def difference_minor(self) -> int | None:
        """What it fetches less the costs that are known; None where that is not known."""
        return None if self.fetches is None else self.fetches[0] - self.total_minor


def worth(work: Work, job: Job, parts: PartsCost) -> Worth:
    """Return what a job costs and what its pen is worth afterwards. Changes nothing."""
    settings = present_values(work.session, work.declared)
    rate = settings[HOURLY_RATE.name]
    lines = (
        WorthLine("pen", job.pen.cost_minor, f"the cost noted with {job.pen.number}"),
        WorthLine(
            "parts",
            None if parts.unknown_pieces and not parts.total else parts.total,
            "the shares of their lots' costs, as used pieces were taken and promised ones lie",
        ),
        WorthLine("spoiled parts", parts.spoiled, "the shares of their lots' costs, as taken"),
        WorthLine("time", _cost_of_time(job, rate), _source_of_time(job, rate)),
        WorthLine("postage", job.postage_minor, f"the postage noted with {job.number}"),
    )
    return Worth(
        lines,
        fetches(job.pen, job),
        tuple(_missing(job, parts, rate)),
        tuple(settings_used((HOURLY_RATE.name,), settings, work.declared)),
    )


def _cost_of_time(job: Job, rate: object) -> int | None:
    if job.time_minutes is None or not isinstance(rate, int | Decimal):
        return None
    return round(Fraction(rate) * MINOR_PER_MAJOR * job.time_minutes / MINUTES_PER_HOUR)


def _source_of_time(job: Job, rate: object) -> str:
    if rate is None:
        return f"no {HOURLY_RATE.name} is set, so time is not counted"
    minutes = "?" if job.time_minutes is None else job.time_minutes
    return f"{minutes} minutes at {rate} an hour ({HOURLY_RATE.name})"


def _missing(job: Job, parts: PartsCost, rate: object) -> list[str]:
    found = []
    if job.pen.cost_minor is None:
        found.append(f"what {job.pen.number} cost: PATCH the pen's cost")
    if parts.unknown_pieces:
        found.append(f"the cost of {parts.unknown_pieces} pieces: PATCH the cost of their lots")
    if job.time_minutes is None:
        found.append("the time it took: PATCH the job's time_minutes")
    if rate is None:
        found.append(f"what an hour costs: PATCH the setting {HOURLY_RATE.name}")
    if job.postage_minor is None:
        found.append("the postage: PATCH the job's postage")
    if fetches(job.pen, job) is None:
        found.append("the value as restored: PATCH the job's value_as_restored")
    return found
