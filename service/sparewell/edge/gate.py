"""The outermost layer of the service: every request passes it, and every answer.

The phases of a request:

1. it gets a number, which its answer and the log carry;
2. it must call the server by a name that is ours (DNS rebinding stops here), and must not come from
   a page of another origin;
3. the application answers;
4. the answer gets the headers that keep browsers careful, and the log a line.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Iterable
from typing import Any

from sparewell.edge import hosts
from sparewell.edge.errors import PROBLEM_TYPE, problem_document
from sparewell.edge.request_number import ENVIRON_KEY, HEADER, new_request_number
from sparewell.tally import RequestTally, tallied

StartResponse = Callable[..., Any]
Application = Callable[[dict[str, Any], StartResponse], Iterable[bytes]]

TOKEN_NAME_KEY = "sparewell.token_name"  # noqa: S105 - where the caller's name is noted
SECURITY_HEADERS = (
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
)
CONTENT_POLICY = ("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
_LONGEST_PATH = 200
_CLIENT_ERROR, _SERVER_ERROR = 400, 500

log = logging.getLogger("sparewell.requests")


class Gate:
    """WSGI layer around the application."""

    def __init__(
        self,
        application: Application,
        names: frozenset[str],
        *,
        numbers: Callable[[], str] = new_request_number,
        stopwatch: Callable[[], float] = time.perf_counter,
    ) -> None:
        self._application = application
        self._names = names
        self._numbers = numbers
        self._stopwatch = stopwatch

    def __call__(self, environ: dict[str, Any], start_response: StartResponse) -> Iterable[bytes]:
        """Answer one request."""
        began = self._stopwatch()
        number = environ[ENVIRON_KEY] = self._numbers()
        statuses: list[str] = []

        def start(status: str, headers: list[tuple[str, str]], *rest: Any) -> Any:
            statuses.append(status)
            return start_response(status, _with_ours(headers, number), *rest)

        refused = self._refusal(environ)
        with tallied() as tally:
            if refused is None:
                answer = self._application(environ, start)
            else:
                answer = _refuse(*refused, number, start)
        milliseconds = (self._stopwatch() - began) * 1000
        _note(environ, int(statuses[-1][:3]), milliseconds, tally)
        return answer

    def _refusal(self, environ: dict[str, Any]) -> tuple[str, str] | None:
        host = environ.get("HTTP_HOST", "")
        if hosts.name_of(host) not in self._names:
            return (
                "400 Bad Request",
                "the Host header does not name this server; SPAREWELL_ALLOWED_HOSTS adds names",
            )
        if not hosts.comes_from_here(environ, host):
            return (
                "403 Forbidden",
                "the request comes from a page of another origin, which may not use this server",
            )
        return None


def _with_ours(headers: list[tuple[str, str]], number: str) -> list[tuple[str, str]]:
    present = {name.lower() for name, _ in headers}
    missing = [
        each for each in (CONTENT_POLICY, *SECURITY_HEADERS) if each[0].lower() not in present
    ]
    return [*headers, *missing, (HEADER, number)]


def _refuse(status: str, detail: str, number: str, start: StartResponse) -> Iterable[bytes]:
    body = json.dumps(problem_document(int(status[:3]), detail, request_number=number)).encode()
    headers = [
        ("Content-Type", PROBLEM_TYPE),
        ("Content-Length", str(len(body))),
        ("Cache-Control", "no-store"),
    ]
    start(status, headers)
    return [body]


def _note(environ: dict[str, Any], status: int, milliseconds: float, tally: RequestTally) -> None:
    """Write the request's line: who asked for what, and what came of it; never what was sent."""
    level = logging.INFO if status < _CLIENT_ERROR else logging.WARNING
    level = level if status < _SERVER_ERROR else logging.ERROR
    fields = {
        "request": environ[ENVIRON_KEY],
        "method": environ.get("REQUEST_METHOD"),
        "path": environ.get("PATH_INFO", "")[:_LONGEST_PATH],
        "status": status,
        "milliseconds": round(milliseconds, 1),
        **tally.fields,
        "from": environ.get("REMOTE_ADDR"),
        "token": environ.get(TOKEN_NAME_KEY),
    }
    log.log(level, "answered", extra={"fields": fields})
