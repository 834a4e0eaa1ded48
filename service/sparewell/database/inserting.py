"""Inserting a row that another transaction may make at the same moment."""

from __future__ import annotations

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
