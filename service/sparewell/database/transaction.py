"""The one place that commits.

`read` gives a session that is always rolled back. `write` runs a function in one transaction and
commits it; a lost race that the database reports (serialization failure, deadlock, a busy file)
runs the whole function again, at most :data:`TRIES` times with a jittered pause, and then gives up
with :class:`Busy`; so does a writer that cannot even begin within :data:`PATIENCE_SECONDS`. The
function must therefore have no effect outside its session.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy import inspect, select
from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnectionFree
from sqlalchemy.orm import Session, lazyload

from sparewell.database import faults
from sparewell.database.engine import Database
from sparewell.tally import Spent, spent

TRIES = 5
PAUSE_SECONDS = 0.02
# How long a writer tries before it says so; a client is then told within seconds, not minutes.
PATIENCE_SECONDS = 5.0

_UNDONE_SQLSTATES = {"40001", "40P01", "55P03"}  # serialization, deadlock, lock not available
_UNIQUE_VIOLATION = "23505"
_CANCELLED_SQLSTATES = {"57014"}  # the statement took too long, and was undone
_FULL_SQLSTATES = {"53100"}
_FULL_SQLITE = ("SQLITE_FULL", "SQLITE_IOERR_WRITE", "SQLITE_IOERR_SHMSIZE")
_BUSY_SQLITE = ("SQLITE_BUSY", "SQLITE_LOCKED")

Result = TypeVar("Result")
Row = TypeVar("Row")


class Unavailable(Exception):  # noqa: N818 - an expected state, not a fault
    """The database cannot do it now; a later try may succeed."""


class Busy(Unavailable):
    """The database stayed busy through every try; nothing was done."""


class StorageFull(Unavailable):
    """The disk is full; nothing was done."""


class Silent(Unavailable):
    """The database did not answer, or went away: whether anything was done is not known."""


@contextmanager
def read(database: Database) -> Iterator[Session]:
    """Give a session for reading; whatever it did is undone. Raises :class:`Unavailable`."""
    with told_apart(), Session(database.engine) as session:
        yield session


@contextmanager
def told_apart() -> Iterator[None]:
    """Say of a driver's failure what it means. Raises :class:`Unavailable`."""
    try:
        yield
    except (DBAPIError, NoConnectionFree) as error:
        found = _unavailable(error)
        if found is None:
            raise
        raise found from error


def write(
    database: Database,
    work: Callable[[Session], Result],
    *,
    randomness: Callable[[], float] = random.random,
    stopwatch: Callable[[], float] = time.monotonic,
) -> Result:
    """Run `work` in one transaction, commit it, and return what it returned.

    Raises :class:`Unavailable`.
    """
    end = stopwatch() + PATIENCE_SECONDS
    for attempt in range(1, TRIES + 1):
        try:
            result = _once(database, work, max(0.0, end - stopwatch()))
        except (DBAPIError, NoConnectionFree) as error:
            is_last = attempt == TRIES or stopwatch() > end
            if is_last or not (_is_undone(error) or _came_second(error)):
                found = _unavailable(error)
                if found is None:
                    raise
                raise found from error
            pause(attempt, randomness)
        else:
            faults.reach(faults.AFTER_COMMIT)
            return result
    raise AssertionError("the loop returns or raises")


def pause(attempt: int, randomness: Callable[[], float] = random.random) -> None:
    """Let others finish before the next attempt: a little longer each time, and never in step."""
    time.sleep(PAUSE_SECONDS * attempt * (0.5 + randomness()))


def _once(database: Database, work: Callable[[Session], Result], patience: float) -> Result:
    """Try it once. On SQLite writers queue here first, and not for longer than their patience."""
    with database.write_lock.turn(patience) as came:
        if not came:
            raise Busy
        with Session(database.writer) as session:
            result = work(session)
            session.flush()
            faults.reach(faults.BEFORE_COMMIT)
            with spent(Spent.DATABASE):
                session.commit()
            return result


def _is_undone(error: Exception) -> bool:
    """Whether the database itself undid the transaction and asks to have it again."""
    origin = getattr(error, "orig", None)
    is_undone = getattr(origin, "sqlstate", None) in _UNDONE_SQLSTATES
    return is_undone or _sqlite_error_name(origin).startswith(_BUSY_SQLITE)


def _came_second(error: Exception) -> bool:
    """Whether another transaction made the same thing first: a second look will find it there."""
    return getattr(getattr(error, "orig", None), "sqlstate", None) == _UNIQUE_VIOLATION


def _unavailable(error: DBAPIError | NoConnectionFree) -> Unavailable | None:
    """Return what a driver's failure means to a caller; None for a fault of ours."""
    if isinstance(error, NoConnectionFree):
        return Busy()
    state = getattr(error.orig, "sqlstate", None)
    if is_full(error):
        return StorageFull()
    if _is_undone(error) or state in _CANCELLED_SQLSTATES:
        return Busy()
    is_away = isinstance(error, OperationalError | InterfaceError) or error.connection_invalidated
    return Silent() if is_away else None


def is_full(error: BaseException) -> bool:
    """Whether a driver's failure says that the disk is full."""
    origin = getattr(error, "orig", None) or error
    state = getattr(origin, "sqlstate", None)
    return state in _FULL_SQLSTATES or _sqlite_error_name(origin) in _FULL_SQLITE


def _sqlite_error_name(origin: BaseException | None) -> str:
    return str(getattr(origin, "sqlite_errorname", ""))


def locked(session: Session, row: Row) -> Row:
    """Return the row as it is now, and keep it so until the commit.

    PostgreSQL locks it against other writers; on SQLite every writer is alone already. Nothing is
    joined: after a wait PostgreSQL compares the row as it is now with the joined rows as they were,
    and a lot whose place somebody has just changed would not be found.
    """
    state: Any = inspect(row)
    (found,) = locked_rows(session, type(row), [state.identity[0]])
    return found


def locked_rows(session: Session, kind: type[Row], row_ids: Collection[int]) -> Sequence[Row]:
    """Return rows in the order of their ids, locked as they are read; :func:`locked` says how."""
    row_id = inspect(kind).primary_key[0]
    statement = (
        select(kind)
        .options(lazyload("*"))
        .where(row_id.in_(row_ids))
        .order_by(row_id)
        .with_for_update(key_share=True, of=kind)
        .execution_options(populate_existing=True)
    )
    return session.scalars(statement).all()
