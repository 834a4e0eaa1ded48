"""Running the service in a process, with an end that cuts nobody off.

The phases:

1. the socket is bound, so that a port that is taken is known before anything else is done;
2. the address is announced, and requests are served by a fixed number of threads for each kind;
3. a signal asks for the end: nobody new is let in, idle connections are closed, requests in flight
   are answered, those half sent are given a moment; a second signal, or the time limit, cuts off.
"""

from __future__ import annotations

import errno
import gc
import logging
import signal
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from waitress import create_server, wasyncore

from sparewell.app.connections import MOST_CONNECTIONS, Channel
from sparewell.app.lanes import Lanes

IDLE_SECONDS = 30
HEADER_LIMIT_BYTES = 64 * 1024
# A body somewhat over the limit is read all the same, for the application to refuse: closing on
# a client that is still sending would reset the connection and lose the answer.
BODY_SLACK_BYTES = 4 * 1024 * 1024
# An answer that its reader does not take goes to a file, and lets its thread go on with others.
MOST_UNSENT_BYTES = 1024**3
_UNSENT_IN_MEMORY_BYTES = 256 * 1024
# How long an end may take: requests in flight, and requests of which only a part has come.
DRAIN_SECONDS = 20.0
HALF_SENT_SECONDS = 2.0
_BACKLOG = 128
# Workers whose parent was killed let go of the port a moment later.
_BIND_SECONDS = 2.0
_BIND_PAUSE_SECONDS = 0.05
_LOOP_SECONDS = 1.0
_DRAIN_LOOP_SECONDS = 0.05
_SIGNALS = ("SIGTERM", "SIGINT", "SIGHUP")

_log = logging.getLogger(__name__)


class AddressError(Exception):
    """The server cannot listen where it was told to; the message says why."""


def bind(host: str, port: int) -> socket.socket:
    """Return a socket that listens at a name or address; port 0 is any free one.

    Raises :class:`AddressError`.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError) as error:
        raise AddressError(f"--host {host}: no such name or address here") from error
    family, _, _, _, address = found[0]
    end = time.monotonic() + _BIND_SECONDS
    while True:
        try:
            return socket.create_server(address, family=family, backlog=_BACKLOG)
        except OSError as error:
            if error.errno != errno.EADDRINUSE or time.monotonic() > end:
                raise AddressError(_why_not(host, port, error)) from error
        time.sleep(_BIND_PAUSE_SECONDS)


def _why_not(host: str, port: int, error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return (
            f"port {port} of {host} is taken by another program; choose another one with --port, "
            "such as --port 0 for any that is free"
        )
    if error.errno == errno.EACCES:
        return f"port {port} is not open to this user; choose one above 1023 with --port"
    if error.errno == errno.EADDRNOTAVAIL:
        return f"{host} is no address of this machine; choose one that is with --host"
    return f"cannot listen on {host}, port {port}: {error.strerror}"


def serve_app(
    app: Callable[..., Any],
    listener: socket.socket,
    *,
    body_limit_bytes: int,
    on_listening: Callable[[], None] = lambda: None,
) -> None:
    """Serve a WSGI application until a signal asks for the end. Call it in the main thread."""
    runner = _Runner(app, listener, body_limit_bytes)
    # What the service is made of lives as long as it does; the collector need not walk it again.
    gc.collect()
    gc.freeze()
    with signals_caught(runner.stop):
        on_listening()
        runner.run()


class _Runner:
    """The loop over the connections, and its end."""

    def __init__(
        self, app: Callable[..., Any], listener: socket.socket, body_limit_bytes: int
    ) -> None:
        self._connections: dict[int, Any] = {}
        self._lanes = Lanes()
        self._server = create_server(
            app,
            map=self._connections,
            _dispatcher=self._lanes,
            sockets=[listener],
            # Whoever comes is let in, and another one has to go.
            connection_limit=2 * MOST_CONNECTIONS,
            outbuf_high_watermark=MOST_UNSENT_BYTES,
            outbuf_overflow=_UNSENT_IN_MEMORY_BYTES,
            channel_timeout=IDLE_SECONDS,
            cleanup_interval=IDLE_SECONDS // 3,
            max_request_body_size=body_limit_bytes + BODY_SLACK_BYTES,
            max_request_header_size=HEADER_LIMIT_BYTES,
            ident=None,
        )
        self._server.channel_class = Channel
        self._stops_asked = 0
        self._look_at = 0.0

    def stop(self) -> None:
        """Ask for the end; asked twice, do not wait for anybody. Safe inside a signal handler."""
        self._stops_asked += 1
        self._server.pull_trigger()

    def run(self) -> None:
        """Serve, and end in an orderly way."""
        try:
            while not self._stops_asked:
                self._turn(_LOOP_SECONDS)
            self._drain()
        finally:
            self._lanes.shutdown(timeout=0.5)
            self._server.trigger.close()
            wasyncore.close_all(self._connections)

    def _turn(self, seconds: float) -> None:
        wasyncore.loop(timeout=seconds, use_poll=True, map=self._connections, count=1)
        now = time.monotonic()
        if now < self._look_at:
            return
        self._look_at = now + _LOOP_SECONDS
        self._lanes.look()
        for channel in list(self._server.active_channels.values()):
            channel.refuse_if_slow(now)

    def _drain(self) -> None:
        """Let nobody new in and answer everybody else."""
        wasyncore.dispatcher.close(self._server)
        asked_at = time.monotonic()
        while self._server.active_channels:
            waited = time.monotonic() - asked_at
            for channel in list(self._server.active_channels.values()):
                if _is_idle(channel, waited):
                    channel.will_close = True
            if waited > DRAIN_SECONDS or self._stops_asked > 1:
                _log.warning("%d connections were cut off", len(self._server.active_channels))
                return
            self._turn(_DRAIN_LOOP_SECONDS)


def _is_idle(channel: Any, waited: float) -> bool:
    """Whether nothing is being answered, sent or, for a moment still, received."""
    if channel.requests or channel.total_outbufs_len:
        return False
    return channel.request is None or waited > HALF_SENT_SECONDS


@contextmanager
def signals_caught(stop: Callable[[], None]) -> Iterator[None]:
    """Turn the signals that end a process into a request to stop; ignored ones stay ignored."""

    def handle(_number: int, _frame: FrameType | None) -> None:
        stop()

    present = {
        number: signal.getsignal(number)
        for number in (getattr(signal, name, None) for name in _SIGNALS)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN
    }
    for number in present:
        signal.signal(number, handle)
    try:
        yield
    finally:
        for number, handler in present.items():
            signal.signal(number, handler)
