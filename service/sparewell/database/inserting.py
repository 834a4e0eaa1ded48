"""Inserting rows past the unit of work: one that another may make as well, or a few at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy.dialects.postgresql import Insert as InsertPostgresql
from sqlalchemy.dialects.postgresql import insert as insert_postgresql
from sqlalchemy.dialects.sqlite import Insert as InsertSqlite
from sqlalchemy.dialects.sqlite import insert as insert_sqlite
from sqlalchemy.orm import Session


def insert_unless_there(session: Session, kind: type) -> InsertPostgresql | InsertSqlite:
    """Return the statement that inserts a row, or nothing where a unique one is there already."""
    if session.get_bind().dialect.name == "sqlite":
        return insert_sqlite(kind).on_conflict_do_nothing()
    return insert_postgresql(kind).on_conflict_do_nothing()


def one_or_many(rows: Sequence[dict[str, Any]]) -> dict[str, Any] | Sequence[dict[str, Any]]:
    """Return rows as a statement takes them; one alone goes a shorter way through the driver."""
    return rows[0] if len(rows) == 1 else rows
