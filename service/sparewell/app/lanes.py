"""Threads for each kind of request, so that no kind keeps another one waiting.

The phases of a request, once it has been received whole:

1. its method and path say which lane it takes; health and refusals have one for themselves;
2. a lane that has not moved for a while takes nobody more: 503 at once, with Retry-After;
3. so does a request that has waited its patience in a lane.
"""

from __future__ import annotations

import re
import time
from dataclasses import dataclass
from typing import Any

from waitress.task import ThreadedTaskDispatcher
from waitress.utilities import Error

STUCK_SECONDS = 1.0
MOST_WAITING = 200
QUICK, READS, WRITES, LONG = "quick", "reads", "writes", "long"
# Writers wait for each other in the database; the other threads must be enough without them.
THREADS = {QUICK: 1, READS: 4, WRITES: 4, LONG: 2}
PATIENCE_SECONDS = {QUICK: 60.0, READS: 5.0, WRITES: 3.0, LONG: 15.0}
_HEALTH = "/health/live"
_LONG = re.compile(r"/v1/(export|imports)[/.]?.*")
_CALCULATIONS = re.compile(r"/v1/(calculators|fits)/.*")
_READING = frozenset({"GET", "HEAD", "OPTIONS"})
_VERSIONS = frozenset({"1.0", "1.1"})


class Overloaded(Error):  # type: ignore[misc]  # noqa: N818 - nobody raises it
    """Too many ask for the same kind of thing at once."""

    code = 503
    reason = "Service Unavailable"


class VersionUnknown(Error):  # type: ignore[misc]  # noqa: N818 - nobody raises it
    """The request is of a version of HTTP that nobody has written (RFC 9110 section 15.6.6)."""

    code = 505
    reason = "HTTP Version Not Supported"


@dataclass(frozen=True)
class _Waiting:
    """A connection whose next request waits for a thread."""

    channel: Any
    since: float

    def service(self) -> None:
        """Answer the request."""
        self.channel.service()

    def cancel(self) -> None:
        """Give it up."""
        self.channel.cancel()


class _Lane(ThreadedTaskDispatcher):  # type: ignore[misc]
    """Some threads and the requests that wait for them."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self._patience_seconds = PATIENCE_SECONDS[kind]
        self.set_thread_count(THREADS[kind])

    @property
    def is_stuck(self) -> bool:
        """Whether the first one has waited for long, or there are very many."""
        with self.lock:
            if not self.queue:
                return False
            waited = time.monotonic() - self.queue[0].since
            return waited > STUCK_SECONDS or len(self.queue) >= MOST_WAITING

    def impatient(self) -> list[Any]:
        """Take those out that have waited for their patience."""
        taken = []
        before = time.monotonic() - self._patience_seconds
        with self.lock:
            while self.queue and self.queue[0].since < before:
                taken.append(self.queue.popleft().channel)
        return taken


class Lanes:
    """What waitress calls a dispatcher of tasks: a task is a connection with a whole request."""

    def __init__(self) -> None:
        self._lanes = {kind: _Lane(kind) for kind in THREADS}

    def add_task(self, channel: Any) -> None:
        """Let the next request of a connection wait for a thread of its lane."""
        request = channel.requests[0]
        if request.error is None and request.version not in _VERSIONS:
            request.error = VersionUnknown("HTTP/1.1 is spoken here, and HTTP/1.0")
        kind = kind_of(request)
        if kind != QUICK and self._lanes[kind].is_stuck:
            self._refuse(channel)
        else:
            self._lanes[kind].add_task(_Waiting(channel, time.monotonic()))

    def look(self) -> None:
        """Answer those that have waited long enough."""
        for lane in self._lanes.values():
            for channel in lane.impatient():
                self._refuse(channel)

    def _refuse(self, channel: Any) -> None:
        channel.requests[0].error = Overloaded("too many ask at once; nothing was done, try again")
        self._lanes[QUICK].add_task(_Waiting(channel, time.monotonic()))

    def shutdown(self, *, cancel_pending: bool = True, timeout: float = 5) -> None:
        """End every thread that is idle; wait at most so long for each lane's others."""
        for lane in self._lanes.values():
            lane.shutdown(cancel_pending, timeout)


def kind_of(request: Any) -> str:
    """Return the lane of a request."""
    if request.error is not None or request.path == _HEALTH:
        return QUICK
    if _LONG.fullmatch(request.path):
        return LONG
    if request.command in _READING or _CALCULATIONS.fullmatch(request.path):
        return READS
    return WRITES
