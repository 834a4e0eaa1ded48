"""Which statements are sent to the database, for tests that count them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import event

from sparewell.database.engine import Database


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """Note each statement that is sent meanwhile, but for those that begin a transaction."""
    sent: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        if not statement.startswith("BEGIN"):
            sent.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
