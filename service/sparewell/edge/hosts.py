"""The Host header, looked at before routing: DNS rebinding stops here.

RFC 9112 section 3.2: a request without exactly one Host is a bad request. A page elsewhere can make
a browser call a service on loopback under the page's own name; only a list of names stops that.
"""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Callable, Iterable
from typing import Any

from sparewell.edge.errors import PROBLEM_TYPE

StartResponse = Callable[..., Any]
Application = Callable[[dict[str, Any], StartResponse], Iterable[bytes]]
LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]"})
_ANY_ADDRESS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - compared with, not bound to


def names_for(bind_host: str, further: Iterable[str]) -> frozenset[str]:
    """Return the names a server may be called by."""
    names = {*LOOPBACK_NAMES, *(name.lower() for name in further)}
    if bind_host not in _ANY_ADDRESS:
        names.add(_bracketed(bind_host.lower()))
    return frozenset(names)


def _bracketed(host: str) -> str:
    try:
        is_six = ipaddress.ip_address(host).version == 6  # noqa: PLR2004 - IPv6
    except ValueError:
        return host
    return f"[{host}]" if is_six else host


class HostCheck:
    """WSGI layer that answers 400 to a request for a name that is not ours."""

    def __init__(self, application: Application, names: frozenset[str]) -> None:
        self._application = application
        self._names = names

    def __call__(self, environ: dict[str, Any], start_response: StartResponse) -> Iterable[bytes]:
        """Pass the request on, or refuse it."""
        if _name_of(environ.get("HTTP_HOST", "")) in self._names:
            return self._application(environ, start_response)
        detail = "the Host header does not name this server; SPAREWELL_ALLOWED_HOSTS adds names"
        body = json.dumps(
            {"type": "about:blank", "title": "Bad Request", "status": 400, "detail": detail}
        ).encode()
        headers = [("Content-Type", PROBLEM_TYPE), ("Content-Length", str(len(body)))]
        start_response("400 Bad Request", headers)
        return [body]


def _name_of(header: str) -> str:
    """Return the name without its port; an empty text for what is no name."""
    host = header.strip().lower()
    if host.startswith("["):
        name, bracket, port = host.partition("]")
        name += bracket
        port = port.removeprefix(":") if port.startswith(":") or not port else "?"
    else:
        name, _, port = host.partition(":")
    is_port = not port or (port.isascii() and port.isdigit())
    return name if is_port and "," not in name and "@" not in name else ""
