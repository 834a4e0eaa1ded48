"""Closing a job, with its outcomes and tests, and cancelling one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from sparewell.closing.testing import judged_tests
from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Impossible, Problem
from sparewell.jobs import operations as jobs
from sparewell.jobs.ground import Ground, ground_of
from sparewell.jobs.inputs import settling_needs, settling_pieces
from sparewell.jobs.tables import Job, JobState
from sparewell.jobs.unfinished import failed, unfinished
from sparewell.outcomes.operations import add_outcome, impossible_day
from sparewell.pens.intake import write_down
from sparewell.reservations.tables import Reservation
from sparewell.timers.operations import end_timers
from sparewell.work import Work


@dataclass(frozen=True)
class Closing:
    """What is said of a job when it is closed; all of it may be left out."""

    outcomes: Sequence[Mapping[str, Any]] = ()
    glue: str | None = None
    ink: str | None = None
    model_note: str | None = None
    time_minutes: int | None = None
    value_as_restored: int | None = None
    note: str = ""
    anyway: str | None = None


@dataclass(frozen=True)
class JudgedTests:
    """The tests of a job as they were judged, and what that rests on."""

    ground: Ground
    tests: Sequence[dict[str, Any]]


def prepare(work: Work, job: Job, tests: Sequence[Mapping[str, Any]]) -> JudgedTests:
    """Judge the tests of an open job. Raises :class:`Impossible` and :class:`Conflict`."""
    pieces = settling_pieces(work, job)
    ground = ground_of(work, job, pieces, settling_needs(work, job))
    return JudgedTests(ground, judged_tests(work, job, tests, pieces))


def close(work: Work, job: Job, judged: JudgedTests, said: Closing) -> Job:
    """Close a job and note how it went. Raises :class:`Impossible` and :class:`Conflict`.

    What is not finished, or failed its test, is in the way until `anyway` says why it is not.
    """
    judged.ground.lock(work)
    job = jobs.locked_open(work, job)
    turned_out = _checked(work, job, said.outcomes)
    tests = list(judged.tests)
    jobs.refuse_promised(work, job)
    work.session.expire(job, ["step_marks", "timers"])
    left = [
        *unfinished(work.declared, job, jobs.covers(work.session, [job]), work.now),
        *failed(tests),
    ]
    if left and said.anyway is None:
        raise Conflict(
            f"{job.number} is not finished: {'; '.join(problem.detail for problem in left)}. "
            "Finish it, or say why it is closed all the same under anyway",
            left,
        )
    job.closed_anyway = (said.anyway or "") if left else ""
    job = jobs.end_job(work, job, JobState.CLOSED, said.note)
    end_timers(work, job)
    job.test_results = tests
    for name, value in (
        ("glue", said.glue),
        ("ink", said.ink),
        ("time_minutes", said.time_minutes),
        ("value_as_restored_minor", said.value_as_restored),
    ):
        if value is not None:
            setattr(job, name, value)
    if said.model_note is not None:
        write_down(locked(work.session, job.pen), {"model_note": said.model_note}, work.now)
    for reservation, outcome in turned_out:
        told = {name: value for name, value in outcome.items() if name != "reservation"}
        add_outcome(work, reservation, **told)
    work.session.flush()
    return job


def cancel(work: Work, job: Job, note: str) -> Job:
    """Cancel a job: it gives up what is promised to it, and waits for nothing any more."""
    job = jobs.cancel_job(work, job, note)
    end_timers(work, job)
    return job


def _checked(
    work: Work, job: Job, outcomes: Sequence[Mapping[str, Any]]
) -> list[tuple[Reservation, Mapping[str, Any]]]:
    """Return each outcome with its reservation. Raises :class:`Impossible` naming each fault."""
    statement = (
        select(Reservation)
        .where(Reservation.job_id == job.id, Reservation.used > 0)
        .order_by(Reservation.id)
    )
    used = {row.id: row for row in work.session.scalars(statement)}
    known = ", ".join(map(str, used)) or "none"
    found: dict[int, tuple[Reservation, Mapping[str, Any]]] = {}
    problems = []
    for position, outcome in enumerate(outcomes):
        pointer, wanted = f"/outcomes/{position}/reservation", outcome["reservation"]
        if wanted in found:
            problems.append(Problem(pointer, f"reservation {wanted} has its outcome above"))
        elif wanted not in used:
            detail = (
                f"{wanted} is no reservation of {job.number} with used pieces; they are {known}"
            )
            problems.append(Problem(pointer, detail))
        elif wrong := impossible_day(work, used[wanted], outcome.get("happened_on")):
            problems.append(Problem(f"/outcomes/{position}/happened_on", wrong))
        else:
            found[wanted] = (used[wanted], outcome)
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return list(found.values())
