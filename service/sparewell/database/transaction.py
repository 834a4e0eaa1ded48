"""The one place that commits.

`read` gives a session that is always rolled back. `write` runs a function in one transaction and
commits it; a lost race that the database reports (serialization failure, deadlock, a busy file)
runs the whole function again, at most :data:`TRIES` times with a jittered pause, and then gives up
with :class:`Busy`. The function must therefore have no effect outside its session.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy import inspect, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from sparewell.database.engine import Database

TRIES = 5
PAUSE_SECONDS = 0.02

_RETRIED_SQLSTATES = {"40001", "40P01", "55P03"}  # serialization, deadlock, lock not available

Result = TypeVar("Result")
Row = TypeVar("Row")


class Busy(Exception):  # noqa: N818 - an expected state, not a fault
    """The database stayed busy through every try; nothing was done."""


class StorageFull(Exception):  # noqa: N818 - an expected state, not a fault
    """The disk is full; nothing was done."""


@contextmanager
def read(database: Database) -> Iterator[Session]:
    """Give a session for reading; whatever it did is undone."""
    with Session(database.engine) as session:
        yield session


def write(
    database: Database,
    work: Callable[[Session], Result],
    *,
    randomness: Callable[[], float] = random.random,
) -> Result:
    """Run `work` in one transaction, commit it, and return what it returned."""
    for attempt in range(1, TRIES + 1):
        try:
            with database.write_lock, Session(database.writer) as session, session.begin():
                return work(session)
        except DBAPIError as error:
            if _is_full(error):
                raise StorageFull from error
            if not _may_retry(error):
                raise
            if attempt == TRIES:
                raise Busy from error
            time.sleep(PAUSE_SECONDS * attempt * (0.5 + randomness()))
    raise AssertionError("the loop returns or raises")


def _may_retry(error: DBAPIError) -> bool:
    state = getattr(error.orig, "sqlstate", None)
    if state is not None:
        return state in _RETRIED_SQLSTATES
    name = getattr(error.orig, "sqlite_errorname", "")
    return name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


def _is_full(error: DBAPIError) -> bool:
    full = ("SQLITE_FULL", "SQLITE_IOERR_WRITE")
    return (
        getattr(error.orig, "sqlite_errorname", "") in full
        or getattr(error.orig, "sqlstate", None) == "53100"
    )


def locked(session: Session, row: Row) -> Row:
    """Return the row as it is now, and keep it so until the commit.

    PostgreSQL locks it against other writers; on SQLite every writer is alone already.
    """
    state: Any = inspect(row)
    statement = (
        select(type(row))
        .where(state.mapper.primary_key[0] == state.identity[0])
        .with_for_update(key_share=True, of=type(row))
        .execution_options(populate_existing=True)
    )
    return session.scalars(statement).unique().one()
