"""Taking in many lots at once, in a few statements.

Each row describes a lot as `lots.operations.described_lot` does, and every piece in it is one
movement of one group.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from sqlalchemy import Table, func, insert, select, text
from sqlalchemy.orm import Session

from sparewell.database import faults
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.work import Work

CHUNK_ROWS = 5000
_LOT = Lot.__table__
_MOVEMENT = Movement.__table__
_GIVEN_HERE = {"id", "part_id", "place_id"}
_DESCRIBED = [column.name for column in _LOT.columns if column.name not in _GIVEN_HERE]


@dataclass(frozen=True, slots=True)
class Arrival:
    """A described lot as the columns that say anything, and where it belongs."""

    part_id: int
    place_id: int
    columns: Mapping[str, Any]


def columns_of(lot: Lot) -> dict[str, Any]:
    """Return the columns of a described lot that say anything; it lacks id, part and place."""
    known = vars(lot)
    return {name: value for name in _DESCRIBED if (value := known.get(name)) is not None}


def arrive_all(work: Work, note: str, arrivals: Iterable[Arrival]) -> int:
    """Take in lots as one group of the ledger; return the group."""
    assert isinstance(_LOT, Table)  # noqa: S101 - it is mapped to one table
    assert isinstance(_MOVEMENT, Table)  # noqa: S101 - as above
    act = Act(at=work.now, actor=work.actor.token, person=work.actor.person, note=note)
    work.session.add(act)
    work.session.flush()
    connection = work.session.connection()
    coming = iter(arrivals)
    while chunk := list(islice(coming, CHUNK_ROWS)):
        ids = new_ids(work.session, _LOT, len(chunk))
        connection.execute(insert(_LOT), _lots(chunk, ids))
        connection.execute(insert(_MOVEMENT), _lines(chunk, ids, act.id))
        faults.reach(faults.AFTER_ROWS_ARRIVED)
    return act.id


def _lots(chunk: Sequence[Arrival], ids: Sequence[int]) -> list[dict[str, Any]]:
    """Return rows of lots; a column of which none of them says anything is left to the database."""
    said = set().union(*(each.columns for each in chunk))
    nothing = dict.fromkeys(name for name in _DESCRIBED if name in said)
    return [
        {
            **nothing,
            **each.columns,
            "id": row_id,
            "part_id": each.part_id,
            "place_id": each.place_id,
        }
        for row_id, each in zip(ids, chunk, strict=True)
    ]


def _lines(chunk: Sequence[Arrival], ids: Sequence[int], act_id: int) -> list[dict[str, Any]]:
    return [
        {
            "act_id": act_id,
            "lot_id": row_id,
            "verb": Verb.ARRIVED,
            "change": each.columns["in_hand"],
            "cost_change_minor": each.columns.get("cost_minor", 0),
            "pieces": each.columns["in_hand"],
            "place_id": each.place_id,
        }
        for row_id, each in zip(ids, chunk, strict=True)
    ]


def new_ids(session: Session, table: Table, count: int) -> Sequence[int]:
    """Return ids that no row of a table has, nor ever had, and that nobody else is given.

    On SQLite writers are alone; on PostgreSQL the counter gives each id once.
    """
    if session.get_bind().dialect.name != "sqlite":
        sequence = select(func.pg_get_serial_sequence(table.name, "id")).scalar_subquery()
        numbers = select(func.nextval(sequence)).select_from(func.generate_series(1, count))
        return list(session.scalars(numbers))
    given = session.scalar(
        text("SELECT seq FROM sqlite_sequence WHERE name = :name"), {"name": table.name}
    )
    first = int(given or 0) + 1
    return range(first, first + count)
