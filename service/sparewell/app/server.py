"""Running the service in a process, with an end that cuts nobody off.

The phases:

1. the socket is bound, so that a port that is taken is known before anything else is done;
2. the address is announced, and requests are served by a fixed number of threads;
3. a signal asks for the end: nobody new is let in, idle connections are closed, requests in flight
   are answered, those half sent are given a moment; a second signal, or the time limit, cuts off.
"""

from __future__ import annotations

import errno
import http
import json
import logging
import signal
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from waitress import create_server, wasyncore
from waitress.channel import HTTPChannel
from waitress.task import ErrorTask, WSGITask

from sparewell.configuration import DEFAULT_LIMITS_BYTES
from sparewell.edge.errors import PROBLEM_TYPE, problem_document
from sparewell.edge.gate import CONTENT_POLICY, SECURITY_HEADERS
from sparewell.edge.request_number import HEADER, new_request_number

THREADS = 8
MOST_CONNECTIONS = 200
IDLE_SECONDS = 30
HEADER_LIMIT_BYTES = 64 * 1024
# A body somewhat over the limit is read all the same, for the application to refuse: closing on
# a client that is still sending would reset the connection and lose the answer.
BODY_SLACK_BYTES = 4 * 1024 * 1024
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


class _ProblemTask(ErrorTask):  # type: ignore[misc]
    """Answer what never reaches the application with a problem document, like every refusal."""

    def execute(self) -> None:
        """Write the document, and close the connection behind it."""
        error = self.request.error
        status = http.HTTPStatus(error.code)
        detail = error.body
        if status is http.HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
            named = ", ".join(DEFAULT_LIMITS_BYTES)
            detail = f"the body is larger than this server reads anywhere ({named})"
        number = new_request_number()
        document = problem_document(error.code, detail, request_number=number)
        fields = {"request": number, "status": error.code, "from": self.channel.addr[0]}
        _log.warning("refused before it was read: %s", detail, extra={"fields": fields})
        body = json.dumps(document).encode()
        self.status = f"{error.code} {status.phrase}"
        self.response_headers += [
            ("Content-Type", PROBLEM_TYPE),
            (HEADER, number),
            CONTENT_POLICY,
            *SECURITY_HEADERS,
        ]
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class _Task(WSGITask):  # type: ignore[misc]
    """Where waitress is not quite what the standards ask for."""

    def get_environment(self) -> dict[str, Any]:
        """Take the host from the address where that has one (RFC 9112 section 3.2.2)."""
        environ: dict[str, Any] = super().get_environment()
        if self.request.proxy_netloc:
            environ["HTTP_HOST"] = self.request.proxy_netloc
        return environ

    def build_response_header(self) -> bytes:
        """Send header names as RFC 9110 spells them; waitress writes them all in one manner."""
        head: bytes = super().build_response_header()
        for spelled in (b"ETag", b"WWW-Authenticate"):
            head = head.replace(b"\r\n" + spelled.title() + b": ", b"\r\n" + spelled + b": ")
        return head


class _Channel(HTTPChannel):  # type: ignore[misc]
    """A connection that answers and refuses in our words."""

    task_class = _Task
    error_task_class = _ProblemTask


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
    with signals_caught(runner.stop):
        on_listening()
        runner.run()


class _Runner:
    """The loop over the connections, and its end."""

    def __init__(
        self, app: Callable[..., Any], listener: socket.socket, body_limit_bytes: int
    ) -> None:
        self._connections: dict[int, Any] = {}
        self._server = create_server(
            app,
            map=self._connections,
            sockets=[listener],
            threads=THREADS,
            connection_limit=MOST_CONNECTIONS,
            channel_timeout=IDLE_SECONDS,
            cleanup_interval=IDLE_SECONDS // 3,
            max_request_body_size=body_limit_bytes + BODY_SLACK_BYTES,
            max_request_header_size=HEADER_LIMIT_BYTES,
            ident=None,
        )
        self._server.channel_class = _Channel
        self._stops_asked = 0

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
            self._server.task_dispatcher.shutdown(timeout=0.5)
            self._server.trigger.close()
            wasyncore.close_all(self._connections)

    def _turn(self, seconds: float) -> None:
        wasyncore.loop(timeout=seconds, use_poll=True, map=self._connections, count=1)

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
