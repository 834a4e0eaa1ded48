"""The steps of a job in their order: how each stands, and what to mind before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sparewell.cautions.operations import cautions_for
from sparewell.extend.pen_materials import materials_of
from sparewell.jobs.held import Pieces, materials_held
from sparewell.jobs.progress import standing
from sparewell.jobs.tables import Job, StepMark
from sparewell.jobs.unfinished import not_owed
from sparewell.work import Work


@dataclass(frozen=True)
class JobStep:
    """One step as its template has it, the mark that says it is done, and its cautions.

    A step that is not owed is one that what the pen is made of forbids.
    """

    position: int
    template: Mapping[str, Any]
    mark: StepMark | None
    is_owed: bool
    cautions: tuple[str, ...]


def steps_of(work: Work, job: Job, pieces: Pieces) -> list[JobStep]:
    """Return the steps of a job; `pieces` are what it holds, among those of others."""
    steps, done = job.template["steps"], standing(job)
    materials = materials_of(job.pen.materials, job.pen.components)
    cautions = cautions_for(work.declared, materials, steps, materials_held(pieces.held, job))
    forbidden = not_owed(work.declared, job)
    return [
        JobStep(
            position,
            step,
            done.get(position),
            position not in forbidden,
            tuple(each.caution for each in cautions if step["name"] in each.steps),
        )
        for position, step in enumerate(steps, 1)
    ]


def stands_at(job: Job) -> int | None:
    """Return the position of the first step that is not done; None where all are."""
    done = standing(job)
    positions = range(1, len(job.template["steps"]) + 1)
    return next((position for position in positions if position not in done), None)
