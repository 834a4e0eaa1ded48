"""How long the next steps of a job take by hand, and what it waits for then: glue, or standing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sparewell.extend.inputs import SettingValues
from sparewell.jobs.progress import standing
from sparewell.jobs.settings import ADHESIVE_SETS, MINUTES_A_STEP, SHELLAC_SETS, STANDS
from sparewell.jobs.tables import Job
from sparewell.jobs.unfinished import not_owed
from sparewell.settings.operations import present_values
from sparewell.work import Work

_GLUED = "glue"
_STOOD = frozenset({"leak_test", "before_return"})
_OF_SHELLAC = "alcohol"  # what it is dissolved in, by which its cautions know it
_SECONDS_PER_HOUR = 3600


@dataclass(frozen=True)
class Pace:
    """The minutes by hand until the job has to wait, what it waits for then, and until when."""

    hands_on_minutes: int
    waits_for: str | None = None
    ready_at: datetime | None = None


def pace_of(work: Work, job: Job) -> Pace:
    """Return how far a job comes in one go: its open steps up to the first that has to wait."""
    settings = present_values(work.session, work.declared)
    minutes = settings.count(MINUTES_A_STEP.name)
    done = standing(job).keys() | not_owed(work.declared, job)
    steps = 0
    for position, step in enumerate(job.template["steps"], 1):
        if position in done:
            continue
        steps += 1
        wait = _wait_after(step, settings)
        if wait is not None:
            waits_for, lasts = wait
            ready_at = work.now + timedelta(minutes=minutes * steps) + lasts
            return Pace(minutes * steps, waits_for, ready_at)
    return Pace(minutes * steps)


def _wait_after(step: Mapping[str, Any], settings: SettingValues) -> tuple[str, timedelta] | None:
    """Return what a step is followed by, and for how long."""
    if step["name"] == _GLUED:
        is_shellac = step["substance"] == _OF_SHELLAC
        waits_for, setting = (
            ("shellac to set", SHELLAC_SETS) if is_shellac else ("adhesive to set", ADHESIVE_SETS)
        )
    elif step["name"] in _STOOD:
        waits_for, setting = "standing", STANDS
    else:
        return None
    hours = settings.number(setting.name)
    return waits_for, timedelta(seconds=int(hours * _SECONDS_PER_HOUR))
