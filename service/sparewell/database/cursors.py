"""Cursors that count their statements and their time, for the log.

Rows are counted where they are fetched, too: SQLite finds most of them only then.
"""

from __future__ import annotations

import sqlite3
from typing import Any

from sparewell.tally import Spent, spent


class _Counting:
    """Goes before a driver's cursor class."""

    def execute(self, *arguments: Any, **options: Any) -> Any:
        with spent(Spent.DATABASE, statements=1):
            return super().execute(*arguments, **options)  # type: ignore[misc]

    def executemany(self, *arguments: Any, **options: Any) -> Any:
        with spent(Spent.DATABASE, statements=1):
            return super().executemany(*arguments, **options)  # type: ignore[misc]

    def fetchone(self) -> Any:
        with spent(Spent.DATABASE):
            return super().fetchone()  # type: ignore[misc]

    def fetchmany(self, *arguments: Any) -> Any:
        with spent(Spent.DATABASE):
            return super().fetchmany(*arguments)  # type: ignore[misc]

    def fetchall(self) -> Any:
        with spent(Spent.DATABASE):
            return super().fetchall()  # type: ignore[misc]


class _SQLiteCursor(_Counting, sqlite3.Cursor):
    """SQLite's."""


class SQLiteConnection(sqlite3.Connection):
    """A connection whose cursors count."""

    def cursor(self, factory: Any = _SQLiteCursor) -> Any:
        """Return a cursor."""
        return super().cursor(factory)


def postgresql_cursor() -> type:
    """Return the class of PostgreSQL's. Raises ModuleNotFoundError without the driver."""
    import psycopg  # noqa: PLC0415 - an extra

    return type("PostgreSQLCursor", (_Counting, psycopg.Cursor), {})
