"""The session in which a request reads: who calls, what is prepared, and what is shown.

It is opened when something is first read, and given back before anything is written, so that what
was read is what the writer compares.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from flask import g
from sqlalchemy.orm import Session

from sparewell.database.transaction import told_apart
from sparewell.edge.context import services


@contextmanager
def reading() -> Iterator[Session]:
    """Give the session of this request for reading. Raises :class:`Unavailable`."""
    with told_apart():
        if "sparewell_reading" not in g:
            g.sparewell_reading = Session(services().database.engine)
        yield g.sparewell_reading


def stop_reading(_error: BaseException | None = None) -> None:
    """Give the session back; whatever was done in it is undone."""
    session: Session | None = g.pop("sparewell_reading", None)
    if session is not None:
        session.close()
