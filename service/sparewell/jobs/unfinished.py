"""What of a job is not finished, and so stands in the way of closing it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from sparewell.cautions.operations import forbidden_positions
from sparewell.errors import Problem
from sparewell.extend.host import Declarations
from sparewell.extend.pen_materials import materials_of
from sparewell.jobs.operations import Cover
from sparewell.jobs.progress import standing, state_of
from sparewell.jobs.tables import Job, NeedState, TimerState


def unfinished(
    declared: Declarations, job: Job, covers: Mapping[int, Cover], now: datetime
) -> list[Problem]:
    """Return each required need that lacks pieces, step that is not done, and timer that runs."""
    return [*_needs(job, covers), *_steps(declared, job), *_timers(job, now)]


def not_owed(declared: Declarations, job: Job) -> frozenset[int]:
    """Return the positions of the steps that a caution forbids for what the pen is made of.

    Such a step is not owed: a pen of casein is not filled with water to please a list.
    """
    materials = materials_of(job.pen.materials, job.pen.components)
    return forbidden_positions(declared, materials, job.template["steps"])


def failed(tests: Sequence[Mapping[str, object]]) -> list[Problem]:
    """Return each test that the pen did not pass."""
    return [
        Problem(
            f"/tests/{position}",
            f"test {test['name']} failed" + (f": {test['judged']}" if test.get("judged") else ""),
            {"test": test["name"]},
        )
        for position, test in enumerate(tests)
        if test.get("passed") is False
    ]


def _needs(job: Job, covers: Mapping[int, Cover]) -> Iterator[Problem]:
    for need in job.needs:
        cover = covers[need.id]
        state = cover.state(need)
        if need.optional or state in {NeedState.MET, NeedState.DROPPED}:
            continue
        if state == NeedState.UNDECIDED:
            said = "is not decided: decide it, or drop it with a reason"
        else:
            said = f"is open: {cover.used} of {need.quantity} fitted"
        yield Problem("", f"need {need.id} ({_spoken(need.kind)}) {said}", {"need": need.id})


def _steps(declared: Declarations, job: Job) -> Iterator[Problem]:
    done = standing(job).keys() | not_owed(declared, job)
    for position, step in enumerate(job.template["steps"], 1):
        if position not in done:
            yield Problem(
                "", f"step {position} ({_spoken(step['name'])}) is not done", {"step": position}
            )


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def _timers(job: Job, now: datetime) -> Iterator[Problem]:
    for timer in job.timers:
        if state_of(timer, now) == TimerState.RUNNING:
            yield Problem(
                "",
                f"timer {timer.id} ({timer.what}) runs until {timer.until:%Y-%m-%d %H:%M} UTC",
                {"timer": timer.id},
            )
