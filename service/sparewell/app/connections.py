"""A connection of the server: how long a request may take to come in, and who must make room.

Everybody is let in. When there are too many, of one address, of those who have not signed in, or in
all, the one goes that has been there longest without signing in; a request that is being answered
is never cut off. So whoever holds connections open loses them, and whoever asks is answered.
"""

from __future__ import annotations

import http
import json
import logging
import time
from collections.abc import Iterable
from typing import Any

from waitress.channel import HTTPChannel
from waitress.task import ErrorTask, WSGITask
from waitress.utilities import Error

from sparewell.configuration import DEFAULT_LIMITS_BYTES
from sparewell.edge.errors import PROBLEM_TYPE, problem_document
from sparewell.edge.gate import CONTENT_POLICY, SECURITY_HEADERS, TOKEN_NAME_KEY
from sparewell.edge.request_number import HEADER, new_request_number

MOST_CONNECTIONS = 200
MOST_OF_ONE_ADDRESS = 150
MOST_STRANGERS = 100
# However steadily the bytes come, a request has to be there whole by then.
HEAD_SECONDS = 10.0
BODY_SECONDS = 120.0
RETRY_SECONDS = 1

_log = logging.getLogger(__name__)


class TooSlow(Error):  # type: ignore[misc]  # noqa: N818 - waitress raises none of these
    """The request has not come in whole in time."""

    code = 408
    reason = "Request Timeout"


class ProblemTask(ErrorTask):  # type: ignore[misc]
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
        slug = "busy" if status is http.HTTPStatus.SERVICE_UNAVAILABLE else None
        document = problem_document(error.code, detail, slug=slug, request_number=number)
        fields = {"request": number, "status": error.code, "from": self.channel.addr[0]}
        _log.warning("refused before it was read: %s", detail, extra={"fields": fields})
        body = json.dumps(document).encode()
        self.status = f"{error.code} {status.phrase}"
        self.response_headers += [
            ("Content-Type", PROBLEM_TYPE),
            ("Cache-Control", "no-store"),
            (HEADER, number),
            CONTENT_POLICY,
            *SECURITY_HEADERS,
        ]
        if status is http.HTTPStatus.SERVICE_UNAVAILABLE:
            self.response_headers.append(("Retry-After", str(RETRY_SECONDS)))
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class Task(WSGITask):  # type: ignore[misc]
    """Where waitress is not quite what the standards ask for."""

    def get_environment(self) -> dict[str, Any]:
        """Take the host from the address where that has one (RFC 9112 section 3.2.2)."""
        environ: dict[str, Any] = super().get_environment()
        if self.request.proxy_netloc:
            environ["HTTP_HOST"] = self.request.proxy_netloc
        return environ

    def execute(self) -> None:
        """Answer the request, and note whether whoever asks has signed in."""
        super().execute()
        if self.environ is not None and self.environ.get(TOKEN_NAME_KEY):
            self.channel.has_signed_in = True

    def build_response_header(self) -> bytes:
        """Send header names as RFC 9110 spells them; waitress writes them all in one manner."""
        head: bytes = super().build_response_header()
        for spelled in (b"ETag", b"WWW-Authenticate"):
            head = head.replace(b"\r\n" + spelled.title() + b": ", b"\r\n" + spelled + b": ")
        return head


class Channel(HTTPChannel):  # type: ignore[misc]
    """A connection that answers and refuses in our words, and knows how long it has waited."""

    task_class = Task
    error_task_class = ProblemTask
    has_signed_in = False
    request: Any
    _timed: Any = None
    _began_at = 0.0

    def __init__(self, server: Any, *arguments: Any, **options: Any) -> None:
        super().__init__(server, *arguments, **options)
        _make_room(list(server.active_channels.values()), self)

    def received(self, data: bytes) -> bool:
        """Take what has come in, and note since when a request has been coming in."""
        taken: bool = super().received(data)
        if self.request is not self._timed:
            self._timed, self._began_at = self.request, time.monotonic()
        return taken

    def refuse_if_slow(self, now: float) -> None:
        """Give a request up that has not come in whole by now."""
        with self.requests_lock:
            request = self.request
            if request is None or request is not self._timed or self.requests:
                return
            most = BODY_SECONDS if request.headers_finished else HEAD_SECONDS
            if now - self._began_at <= most:
                return
            request.error = TooSlow(f"the request did not come in whole within {most:.0f} s")
            request.completed = True
            self.request = None
            self.requests.append(request)
        self.server.add_task(self)


def _make_room(channels: Iterable[Channel], newest: Channel) -> None:
    """Close one connection where there are too many of a kind."""
    crowds = (
        ([each for each in channels if each.addr[0] == newest.addr[0]], MOST_OF_ONE_ADDRESS),
        ([each for each in channels if not each.has_signed_in], MOST_STRANGERS),
        (list(channels), MOST_CONNECTIONS),
    )
    for crowd, most in crowds:
        if len(crowd) <= most:
            continue
        idle = [each for each in crowd if each is not newest and not each.requests]
        leaving = min(idle, key=_how_worthy, default=newest)
        _log.warning("%d connections: one of %s had to go", len(crowd), leaving.addr[0])
        leaving.handle_close()
        return


def _how_worthy(channel: Channel) -> tuple[bool, float]:
    since = channel.last_activity if channel.has_signed_in else channel.creation_time
    return channel.has_signed_in, since
