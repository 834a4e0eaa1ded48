"""What was fitted to pens like this one, and how it turned out.

Two pens are alike when they have the same filling system and either the same model note or leading
readings that lie no further apart than a setting.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import ColumnElement, and_, exists, or_, select
from sqlalchemy.orm import joinedload

from sparewell.extend.settings import settings_used
from sparewell.outcomes.operations import fittings_of, size_of
from sparewell.outcomes.settings import ALIKE_READINGS, ALIKE_TOLERANCE
from sparewell.outcomes.tables import TurnedOut
from sparewell.pens.operations import present_readings
from sparewell.pens.tables import Pen, Reading
from sparewell.settings.operations import present_values
from sparewell.work import Work

MOST_PENS = 500
MOST_JOBS_SHOWN = 20
_IN_WORDS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_BAD = {
    TurnedOut.LEAKED: "leaked",
    TurnedOut.TIGHT: "turned out tight",
    TurnedOut.LOOSE: "turned out loose",
}
_BADNESS: Mapping[str, int] = {
    "": 0,
    **{outcome: rank for rank, outcome in enumerate(TurnedOut, start=1)},
}


@dataclass
class PastSize:
    """One size of one kind, and how it did in pens like this."""

    kind: str
    size: str
    outcomes: Counter[str] = field(default_factory=Counter)
    pens: set[int] = field(default_factory=set)
    jobs: list[str] = field(default_factory=list)

    @property
    def pens_in_all(self) -> int:
        """How many pens took it."""
        return len(self.pens)

    @property
    def not_said(self) -> int:
        """Of how many jobs nobody said how it turned out."""
        return self.outcomes[""]

    @property
    def latest_jobs(self) -> list[str]:
        """The latest jobs in which it was fitted."""
        return self.jobs[-MOST_JOBS_SHOWN:]

    @property
    def sentence(self) -> str:
        """What happened, in words."""
        pens = f"{len(self.pens)} pen{'s' if len(self.pens) > 1 else ''} like this"
        bad = [
            f"{_counted(self.outcomes[outcome])} {wording}"
            for outcome, wording in _BAD.items()
            if self.outcomes[outcome]
        ]
        return "; ".join([f"{pens} took a {self.size}", *bad])


def _counted(number: int) -> str:
    return _IN_WORDS[number] if number < len(_IN_WORDS) else str(number)


def alike(work: Work, pen: Pen) -> list[PastSize]:
    """Return what pens like this one took, what was taken most often first."""
    others = [other.id for other in like_pens(work, pen)]
    found: dict[tuple[str, str], PastSize] = {}
    worst: dict[tuple[str, str, int], tuple[int, str]] = {}
    for fitting in fittings_of(work.session, Pen.id.in_(others)):
        key = fitting.lot.kind, size_of(work.declared, fitting.lot)
        past = found.setdefault(key, PastSize(*key))
        past.pens.add(fitting.pen.id)
        if fitting.job.number not in past.jobs:
            past.jobs.append(fitting.job.number)
        outcome = fitting.outcome.outcome if fitting.outcome else ""
        # A job counts once for a size, with the worst that is said of it.
        rank = (_BADNESS[outcome], outcome)
        worst[*key, fitting.job.id] = max(worst.get((*key, fitting.job.id), rank), rank)
    for (kind, size, _), (_, outcome) in worst.items():
        found[kind, size].outcomes[outcome] += 1
    return sorted(found.values(), key=lambda past: (past.kind, -len(past.pens), past.size))


def like_pens(work: Work, pen: Pen) -> Sequence[Pen]:
    """Return the other pens like this one, the newest of them, newest first."""
    settings = present_values(work.session, work.declared)
    tolerance = settings.length(ALIKE_TOLERANCE.name)
    wanted = _leading(pen, settings.text(ALIKE_READINGS.name))
    is_like = [Pen.model_key == pen.model_key] if pen.model_key else []
    if wanted:
        is_like.append(and_(*(_has_had(name, near) for name, near in _ranges(wanted, tolerance))))
    if not is_like:
        return []
    statement = (
        select(Pen)
        .where(Pen.filling_system == pen.filling_system, Pen.id != pen.id, or_(*is_like))
        .options(joinedload(Pen.readings))
        .order_by(Pen.id.desc())
        .limit(MOST_PENS)
    )
    return [
        other
        for other in work.session.scalars(statement).unique()
        if (pen.model_key and other.model_key == pen.model_key)
        or (wanted and _is_near(other, wanted, tolerance))
    ]


def _leading(pen: Pen, names: str) -> dict[str, int]:
    """Return the readings by which a pen is compared, in nanometres."""
    readings = present_readings(pen)
    values = {
        name: readings[name].value_nanometres
        for name in (each.strip() for each in names.split(","))
        if name in readings
    }
    return {name: value for name, value in values.items() if value is not None}


def _ranges(wanted: Mapping[str, int], tolerance: int) -> list[tuple[str, tuple[int, int]]]:
    return [(name, (value - tolerance, value + tolerance)) for name, value in wanted.items()]


def _has_had(name: str, near: tuple[int, int]) -> ColumnElement[bool]:
    """Whether any reading of a pen is near: the present ones are compared afterwards."""
    return exists().where(
        Reading.pen_id == Pen.id, Reading.name == name, Reading.value_nanometres.between(*near)
    )


def _is_near(other: Pen, wanted: Mapping[str, int], tolerance: int) -> bool:
    readings = present_readings(other)
    for name, (low, high) in _ranges(wanted, tolerance):
        value = readings[name].value_nanometres if name in readings else None
        if value is None or not low <= value <= high:
            return False
    return True


def settings_of_likeness(work: Work) -> list[dict[str, object]]:
    """Return the settings that say which pens are alike, each with its source."""
    values = present_values(work.session, work.declared)
    return settings_used((ALIKE_READINGS.name, ALIKE_TOLERANCE.name), values, work.declared)
