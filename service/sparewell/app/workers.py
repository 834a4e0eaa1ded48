"""Several server processes on one socket, for PostgreSQL, and the one that looks after them.

The phases:

1. the socket is bound once, and each worker inherits it: whoever is free takes the next connection;
2. each worker says on a line of its own that it serves; when all do, the address is announced;
3. a worker that dies is replaced; at the start, several that die before they serve end it all;
4. a signal asks for the end: every worker answers what is in flight, and then ends; a second
   signal, or the time limit, cuts off.

The line has a second use: when the parent goes, whatever the way, its end of each line closes, and
the workers end as after a signal. No worker is left behind with the port.
"""

from __future__ import annotations

import logging
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass

from sparewell.app.server import DRAIN_SECONDS, signals_caught

MOST_WORKERS = 64
MOST_FALSE_STARTS = 3
FALSE_START_PAUSE_SECONDS = 1.0
GRACE_SECONDS = 5.0
_LOOK_SECONDS = 0.1
_READY = b"r"

_log = logging.getLogger(__name__)


class WorkersFailed(Exception):  # noqa: N818 - an end, not a fault of the caller
    """The workers end as soon as they start; the log says why."""


@dataclass
class _Worker:
    process: subprocess.Popen[bytes]
    line: socket.socket
    has_said_ready: bool = False

    def is_ready(self) -> bool:
        """Whether it has said that it serves."""
        if not self.has_said_ready:
            with suppress(BlockingIOError):
                self.has_said_ready = self.line.recv(1) == _READY
        return self.has_said_ready


class Workers:
    """Starts so many workers, replaces those that die, and ends them all."""

    def __init__(
        self, module: str, arguments: Sequence[str], listener: socket.socket, count: int
    ) -> None:
        """Take the module that is a worker; it gets two descriptors and then these arguments."""
        self._module = module
        self._arguments = arguments
        self._listener = listener
        self._count = count
        self._workers: list[_Worker] = []
        self._is_announced = False
        self._false_starts = 0
        self._start_again_at = 0.0
        self._stops_asked = 0

    def run(self, on_listening: Callable[[], None]) -> None:
        """Serve until a signal asks for the end. Raises :class:`WorkersFailed`."""
        with signals_caught(self._stop):
            try:
                self._workers = [self._started() for _ in range(self._count)]
                while not self._stops_asked:
                    self._replace_dead()
                    ready = [worker.is_ready() for worker in self._workers]
                    if all(ready) and not self._is_announced:
                        self._is_announced = True
                        on_listening()
                    time.sleep(_LOOK_SECONDS)
            finally:
                self._end()

    def _stop(self) -> None:
        self._stops_asked += 1

    def _started(self) -> _Worker:
        ours, theirs = socket.socketpair()
        ours.setblocking(False)  # noqa: FBT003 - the standard library's signature
        descriptors = (self._listener.fileno(), theirs.fileno())
        with theirs:
            command = [sys.executable, "-m", self._module, *map(str, descriptors), *self._arguments]
            process = subprocess.Popen(command, pass_fds=descriptors)  # noqa: S603 - our own module
        return _Worker(process, ours)

    def _replace_dead(self) -> None:
        for place, worker in enumerate(self._workers):
            status = worker.process.poll()
            if status is None or time.monotonic() < self._start_again_at:
                continue
            if worker.is_ready():
                self._false_starts = 0
            else:
                self._false_starts += 1
                self._start_again_at = time.monotonic() + FALSE_START_PAUSE_SECONDS
            worker.line.close()
            _log.error("worker %d ended with %d and is replaced", worker.process.pid, status)
            if self._false_starts >= MOST_FALSE_STARTS and not self._is_announced:
                raise WorkersFailed("the workers end as soon as they start; the log says why")
            self._workers[place] = self._started()

    def _end(self) -> None:
        """Let each worker finish what is in flight, then see that it is gone."""
        self._listener.close()
        for worker in self._workers:
            worker.process.send_signal(signal.SIGTERM)
        limit = time.monotonic() + DRAIN_SECONDS + GRACE_SECONDS
        while _living(self._workers) and time.monotonic() < limit and self._stops_asked < 2:  # noqa: PLR2004 - a second signal
            time.sleep(_LOOK_SECONDS)
        for worker in _living(self._workers):
            _log.warning("worker %d was cut off", worker.process.pid)
            worker.process.kill()
        for worker in self._workers:
            worker.process.wait()
            worker.line.close()


def _living(workers: Sequence[_Worker]) -> list[_Worker]:
    return [worker for worker in workers if worker.process.poll() is None]


class ParentLine:
    """A worker's end of its line to the parent."""

    def __init__(self, descriptor: int) -> None:
        self._socket = socket.socket(fileno=descriptor)

    def say_ready(self) -> None:
        """Tell the parent that this worker serves, and end when the parent goes."""
        self._socket.sendall(_READY)
        threading.Thread(target=self._end_with_parent, name="sparewell-line", daemon=True).start()

    def _end_with_parent(self) -> None:
        with suppress(ConnectionResetError):  # the parent went without reading what we said
            while self._socket.recv(1):
                pass
        os.kill(os.getpid(), signal.SIGTERM)
