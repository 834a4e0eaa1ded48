"""Where the time of a request goes, so that the log can say what was slow.

Whoever spends time says so with :func:`spent`: the database's cursors, the guard around plugins,
the queue of writers. Outside of a request nobody counts.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from enum import StrEnum


class Spent(StrEnum):
    """What a request spends its time on, beside the work of the service itself."""

    DATABASE = "database"
    PLUGINS = "plugins"
    LOCK = "lock"


@dataclass
class RequestTally:
    """What one request has sent to the database, and the seconds it has spent."""

    statements: int = 0
    seconds: dict[Spent, float] = field(default_factory=lambda: dict.fromkeys(Spent, 0.0))

    @property
    def fields(self) -> dict[str, object]:
        """What the log's line says of it."""
        milliseconds = {
            f"{what}_milliseconds": round(seconds * 1000, 1)
            for what, seconds in self.seconds.items()
        }
        return {"statements": self.statements, **milliseconds}


_present: ContextVar[RequestTally | None] = ContextVar("tally", default=None)


@contextmanager
def tallied() -> Iterator[RequestTally]:
    """Count everything that is spent in this block."""
    tally = RequestTally()
    token = _present.set(tally)
    try:
        yield tally
    finally:
        _present.reset(token)


class _Spending:
    """A block whose time is counted: a class, since each row that is fetched passes one."""

    __slots__ = ("_began", "_statements", "_tally", "_what")

    def __init__(self, what: Spent, statements: int) -> None:
        self._what, self._statements = what, statements

    def __enter__(self) -> None:
        self._tally = _present.get()
        self._began = time.perf_counter()

    def __exit__(self, *_failure: object) -> None:
        if self._tally is not None:
            self._tally.seconds[self._what] += time.perf_counter() - self._began
            self._tally.statements += self._statements


def spent(what: Spent, *, statements: int = 0) -> _Spending:
    """Return a block whose time is counted, and the statements that it sends."""
    return _Spending(what, statements)
