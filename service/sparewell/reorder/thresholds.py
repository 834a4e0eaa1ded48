"""What was said of when each part is to be ordered: rows of the table that a plugin keeps for it.

Rows are only added: the latest of a part holds, the earlier ones are its history.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Table, func, insert, select

from sparewell.errors import NotFound
from sparewell.work import Work


@dataclass(frozen=True)
class Threshold:
    """What was said of a part; `parameters` are the policy's, as they were given.

    A `policy` of None takes back what was said before: the workshop's own policy holds again.
    """

    policy: str | None
    parameters: Mapping[str, object]
    why: str
    actor: str
    person: str | None
    at: datetime


def threshold_table(work: Work) -> Table:
    """Return where thresholds are kept. Raises :class:`NotFound` where no plugin keeps them."""
    table = work.declared.threshold_table
    if table is None:
        raise NotFound("no thresholds are kept: the plugin that keeps them is not loaded")
    return table


def latest_thresholds(work: Work) -> Mapping[int, Threshold]:
    """Return the latest threshold of every part that has one; nothing where none are kept."""
    table = work.declared.threshold_table
    if table is None:
        return {}
    newest = select(func.max(table.c.id)).group_by(table.c.part_id)
    rows = work.session.execute(select(table).where(table.c.id.in_(newest)))
    return {row.part_id: _threshold(row) for row in rows}


def threshold_history(work: Work, part_id: int) -> list[Threshold]:
    """Return all that were written of a part, the oldest first."""
    table = threshold_table(work)
    statement = select(table).where(table.c.part_id == part_id).order_by(table.c.id)
    return [_threshold(row) for row in work.session.execute(statement)]


def write_threshold(work: Work, part_id: int, threshold: Threshold) -> None:
    """Write a threshold of a part over what was said before, which stays."""
    values = asdict(threshold) | {"part_id": part_id}
    work.session.execute(insert(threshold_table(work)).values(values))


def _threshold(row: Row[Any]) -> Threshold:
    return Threshold(row.policy, row.parameters, row.why, row.actor, row.person, row.at)
