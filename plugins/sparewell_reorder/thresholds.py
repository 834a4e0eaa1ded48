"""The book of thresholds: reading and writing this plugin's table in the service's transaction."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Row, func, insert, select
from sqlalchemy.orm import Session

from sparewell.plugin import Threshold, ThresholdBook
from sparewell_reorder.tables import THRESHOLD

MOST_AT_ONCE: Final = 500  # databases take only so many values in one statement


def read(session: Session, part_ids: Collection[int] | None) -> Mapping[int, Threshold]:
    """Return the latest threshold of these parts, or of all."""
    if part_ids is None:
        return dict(_latest(session, None))
    wanted = sorted(part_ids)
    found: dict[int, Threshold] = {}
    for start in range(0, len(wanted), MOST_AT_ONCE):
        found.update(_latest(session, wanted[start : start + MOST_AT_ONCE]))
    return found


def _latest(session: Session, part_ids: Sequence[int] | None) -> list[tuple[int, Threshold]]:
    newest = select(func.max(THRESHOLD.c.id)).group_by(THRESHOLD.c.part_id)
    if part_ids is not None:
        newest = newest.where(THRESHOLD.c.part_id.in_(part_ids))
    rows = session.execute(select(THRESHOLD).where(THRESHOLD.c.id.in_(newest)))
    return [(row.part_id, _threshold(row)) for row in rows]


def history(session: Session, part_id: int) -> Sequence[Threshold]:
    """Return all that were written of a part, the oldest first."""
    statement = select(THRESHOLD).where(THRESHOLD.c.part_id == part_id).order_by(THRESHOLD.c.id)
    return [_threshold(row) for row in session.execute(statement)]


def write(session: Session, part_id: int, threshold: Threshold) -> None:
    """Write a threshold of a part over what was said before, which stays."""
    session.execute(
        insert(THRESHOLD).values(
            part_id=part_id,
            policy=threshold.policy,
            parameters=dict(threshold.parameters),
            why=threshold.why,
            actor=threshold.actor,
            person=threshold.person,
            at=threshold.at,
        )
    )


def _threshold(row: Row[Any]) -> Threshold:
    return Threshold(
        policy=row.policy,
        parameters=row.parameters,
        why=row.why,
        actor=row.actor,
        person=row.person,
        at=row.at,
    )


THRESHOLD_BOOK: Final = ThresholdBook("reorder", read, history, write)
