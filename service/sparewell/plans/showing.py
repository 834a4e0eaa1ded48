"""What is shown of the plan of a need, and of what comes after a spoiled piece."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sparewell.fitting.judging import Candidate, RefusedPiece
from sparewell.fitting.operations import DEFAULT_LIMIT
from sparewell.jobs.tables import Job
from sparewell.outcomes.alike import PastSize
from sparewell.plans.advising import NeedAdvice, advise
from sparewell.plans.need_plans import NeedPlan
from sparewell.plans.spoiling import Next, OfferedPiece
from sparewell.reservations.tables import Reservation
from sparewell.work import Work


@dataclass(frozen=True)
class ShownNeedPlan:
    """What can be done about a need, what is said of it, and what pens like this one took."""

    row: NeedPlan
    advice: NeedAdvice
    alike: Sequence[PastSize]

    @property
    def quantity(self) -> int:
        """How many are wanted."""
        return self.row.cover.wanted(self.row.need)

    @property
    def state(self) -> str:
        """How the need stands."""
        return self.row.cover.state(self.row.need)

    @property
    def candidates(self) -> Sequence[Candidate]:
        """The pieces that would do, the best first."""
        return self.row.found.candidates[:DEFAULT_LIMIT] if self.row.found else ()

    @property
    def refused(self) -> Sequence[RefusedPiece]:
        """The pieces that would not do."""
        return self.row.found.refused if self.row.found else ()


def shown_needs(
    work: Work, job: Job, plans: Sequence[NeedPlan], past: Sequence[PastSize]
) -> list[ShownNeedPlan]:
    """Return the plans of a job's needs as they are shown."""
    return [
        ShownNeedPlan(
            plan,
            advise(work, job, plan),
            [each for each in past if each.kind == plan.need.kind],
        )
        for plan in plans
    ]


@dataclass(frozen=True)
class ShownPiece:
    """A piece that is offered, and the request that reserves it."""

    row: OfferedPiece
    after: Next

    @property
    def reserve(self) -> Mapping[str, Any]:
        """The request: its path, and its body."""
        lot = self.row.lot
        body = {"lot": lot.id, "quantity": min(self.after.lacks, lot.available)}
        if self.after.need is not None:
            body["need"] = self.after.need.id
        return {"path": f"/v1/jobs/{self.after.job.number}/reservations", "body": body}


@dataclass(frozen=True)
class ShownNext:
    """What comes after a spoiled piece."""

    row: Next

    @property
    def pieces(self) -> list[ShownPiece]:
        """The pieces that would do in its place."""
        return [ShownPiece(offer, self.row) for offer in self.row.offers]


@dataclass(frozen=True)
class ShownSpoiled:
    """The reservation of the spoiled pieces, and what comes next."""

    row: Reservation
    next: ShownNext
