"""The second revision of the core, with the rows of the first release in place."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from sparewell.database import migrate
from sparewell.database.engine import Database
from sparewell.database.migrate import Owner

ROWS = """
INSERT INTO pen (called, filling_system, materials, note, created_at)
    VALUES ('olive', 'lever', '[]', '', '2026-11-25 12:00:00');
INSERT INTO job (pen_id, state, template, note, created_at)
    VALUES (1, 'open', '{}', '', '2026-11-25 12:00:00');
INSERT INTO need (job_id, kind, quantity, calculator, optional, seals_where)
    VALUES (1, 'sac', 1, 'sac', false, 'on the nipple');
INSERT INTO need (job_id, kind, quantity, calculator, optional, seals_where)
    VALUES (1, 'pressure_bar', 1, NULL, true, 'none')
"""
NEW_NEED = (
    "INSERT INTO need (job_id, kind, quantity, optional, seals_where, given, reads, together, "
    "decided, note, dropped_why) VALUES (1, 'sac', 1, false, '', '{}', '{}', '', true, '', {why})"
)


@pytest.fixture
def old(empty_database: Database, owners: list[Owner]) -> Database:
    """A database of the first release with two needs, brought up to this one."""
    core = owners[:1]
    migrate.upgrade(empty_database, core, "0001")
    with empty_database.writer.begin() as connection:
        for statement in ROWS.split(";"):
            connection.execute(text(statement))
    migrate.upgrade(empty_database, core)
    return empty_database


def needs(database: Database, columns: str) -> list[tuple[object, ...]]:
    """Return columns of every need."""
    with database.engine.connect() as connection:
        rows = connection.execute(text(f"SELECT {columns} FROM need ORDER BY id"))
        return [tuple(row) for row in rows]


def test_the_needs_there_were_are_decided_and_wanted(old: Database) -> None:
    """Each old need keeps what it said, and is decided, not dropped, and given nothing."""
    assert needs(old, "id, kind, calculator") == [(1, "sac", "sac"), (2, "pressure_bar", None)]
    for given, reads, together, decided, at_most, dropped in needs(
        old, "given, reads, together, decided, at_most, dropped_at"
    ):
        kept = [json.loads(each) if isinstance(each, str) else each for each in (given, reads)]
        assert kept == [{}, {}]
        assert (together, bool(decided), at_most, dropped) == ("", True, None, None)


def test_a_need_is_never_dropped_without_its_reason(old: Database) -> None:
    """The database itself refuses a reason without a moment, and numbers go on after the old."""
    with old.writer.begin() as connection:
        connection.execute(text(NEW_NEED.replace("{why}", "NULL")))
    assert needs(old, "id")[-1] == (3,)
    with pytest.raises(IntegrityError), old.writer.begin() as connection:
        connection.execute(text(NEW_NEED.replace("{why}", "'gone'")))


def test_going_back_keeps_the_needs(old: Database, owners: list[Owner]) -> None:
    """Down to the first revision the needs stay, as they were, and up again they are there."""
    migrate.downgrade(old, owners[0], "0001")
    assert needs(old, "id, kind") == [(1, "sac"), (2, "pressure_bar")]
    migrate.upgrade(old, owners[:1])
    assert needs(old, "id, kind") == [(1, "sac"), (2, "pressure_bar")]
