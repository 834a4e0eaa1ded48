"""By which names the server may be called, and whether a browser's page of ours is calling.

RFC 9112 section 3.2: a request without exactly one Host is a bad request. A page elsewhere can make
a browser call a service on loopback under the page's own name; only a list of names stops that.
A page elsewhere that calls us by our right name says so itself, in Origin (RFC 6454) or in
Sec-Fetch-Site (W3C Fetch Metadata); programs send neither.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable, Mapping
from typing import Any

LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]"})
_ANY_ADDRESS = frozenset({"0.0.0.0", "::"})  # noqa: S104 - compared with, not bound to
_SITES_OF_OURS = frozenset({"same-origin", "none"})
_DEFAULT_PORTS = {"http": ":80", "https": ":443"}


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


def name_of(header: str) -> str:
    """Return the name in a Host header without its port; an empty text for what is no name."""
    host = header.strip().lower()
    if host.startswith("["):
        name, bracket, port = host.partition("]")
        name += bracket
        port = port.removeprefix(":") if port.startswith(":") or not port else "?"
    else:
        name, _, port = host.partition(":")
    is_port = not port or (port.isascii() and port.isdigit())
    return name if is_port and "," not in name and "@" not in name else ""


def comes_from_here(environ: Mapping[str, Any], host: str) -> bool:
    """Whether a request comes from a program, from a page of this server, or from a plain link."""
    origin = environ.get("HTTP_ORIGIN")
    if origin is not None and not _is_origin(origin, host):
        return False
    if environ.get("HTTP_SEC_FETCH_SITE", "none") in _SITES_OF_OURS:
        return True
    # Following a link from elsewhere is how people come to a page; it can change nothing.
    is_link = environ.get("HTTP_SEC_FETCH_MODE") == "navigate"
    return is_link and environ.get("REQUEST_METHOD") in {"GET", "HEAD"}


def _is_origin(origin: str, host: str) -> bool:
    """Whether an origin is this host's; behind a proxy that ends TLS the scheme may differ."""
    scheme, separator, authority = origin.strip().lower().partition("://")
    default = _DEFAULT_PORTS.get(scheme)
    if not separator or default is None:
        return False
    return authority.removesuffix(default) == host.strip().lower().removesuffix(default)
