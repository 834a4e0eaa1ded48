"""The session in which a request reads: who calls, what is prepared, and what is shown.

It is opened when something is first read, and given back before anything is written. All that a
request reads is of one moment, on PostgreSQL too: so a version tells of everything that was read of
its row, whichever was read first.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from flask import g
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from sparewell.database.engine import Database
from sparewell.database.transaction import told_apart
from sparewell.edge.context import services


@contextmanager
def reading() -> Iterator[Session]:
    """Give the session of this request for reading. Raises :class:`Unavailable`."""
    with told_apart():
        if "sparewell_reading" not in g:
            g.sparewell_reading = _opened(services().database)
        yield g.sparewell_reading


def _opened(database: Database) -> Session:
    session = Session(database.engine)
    if not database.is_sqlite:
        session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
    return session


def stop_reading(_error: BaseException | None = None) -> None:
    """Give the session back; whatever was done in it is undone.

    A database that goes away just then takes nothing with it: what was read has been read.
    """
    session: Session | None = g.pop("sparewell_reading", None)
    if session is None:
        return
    try:
        session.close()
    except DBAPIError:
        session.invalidate()
