"""Requests that no client library would send, byte by byte, against a server that listens."""

from __future__ import annotations

import json
import socket
from typing import Any
from urllib.parse import urlsplit

import pytest

from sparewell.app.server import HEADER_LIMIT_BYTES

PATIENCE_SECONDS = 20
HEAD = b"Host: localhost\r\nConnection: close\r\nAuthorization: Bearer TOKEN\r\n"
GET = b"GET /v1/drawers HTTP/1.1\r\n" + HEAD
POST = b"POST /v1/drawers HTTP/1.1\r\n" + HEAD + b"Content-Type: application/json\r\n"
CHUNKED = POST + b"Transfer-Encoding: chunked\r\n\r\n"
BROKEN = b'{"code":7}'

REQUESTS: dict[str, tuple[bytes, int]] = {
    "chunks": (CHUNKED + b"a\r\n" + BROKEN + b"\r\n0\r\n\r\n", 422),
    "a chunk's size that is none": (CHUNKED + b"zz\r\nabc\r\n0\r\n\r\n", 400),
    "a negative chunk": (CHUNKED + b"-5\r\nabc\r\n0\r\n\r\n", 400),
    "a chunk with a sign": (CHUNKED + b"+a\r\n" + BROKEN + b"\r\n0\r\n\r\n", 400),
    "a chunk longer than said": (CHUNKED + b"a\r\n" + BROKEN + b"XX0\r\n\r\n", 400),
    "chunks of no JSON": (CHUNKED + b"3\r\n\x00\xff{\r\n0\r\n\r\n", 400),
    # RFC 9112 section 6.1: a coding of the transfer that is not understood is 501.
    "a transfer coding unknown": (POST + b"Transfer-Encoding: nonsense\r\n\r\n", 501),
    "a transfer coding twice": (POST + b"Transfer-Encoding: gzip, chunked\r\n\r\n", 501),
    "length and chunks": (
        POST
        + b"Content-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\na\r\n"
        + BROKEN
        # the chunks count (RFC 9112 section 6.3), and the connection is closed
        + b"\r\n0\r\n\r\n",
        422,
    ),
    "two lengths": (POST + b"Content-Length: 10\r\nContent-Length: 10\r\n\r\n" + BROKEN, 400),
    "two other lengths": (POST + b"Content-Length: 10\r\nContent-Length: 3\r\n\r\n" + BROKEN, 400),
    "a list of lengths": (POST + b"Content-Length: 10, 10\r\n\r\n" + BROKEN, 400),
    "a negative length": (POST + b"Content-Length: -1\r\n\r\n" + BROKEN, 400),
    "a length with a sign": (POST + b"Content-Length: +10\r\n\r\n" + BROKEN, 400),
    "a length in hexadecimal": (POST + b"Content-Length: 0xa\r\n\r\n" + BROKEN, 400),
    "a length without end": (POST + b"Content-Length: " + b"9" * 30 + b"\r\n\r\n{", 413),
    "a length too short": (POST + b"Content-Length: 5\r\n\r\n" + BROKEN, 400),
    "an empty length": (POST + b"Content-Length: \r\n\r\n", 400),
    "no host": (GET.replace(b"Host: localhost\r\n", b"") + b"\r\n", 400),
    "two hosts": (GET + b"Host: localhost\r\n\r\n", 400),
    "another host": (GET.replace(b"localhost", b"evil.example") + b"\r\n", 400),
    # RFC 9112 section 3.2.2: a host in the address comes before the header.
    "another host in the address": (
        GET.replace(b"/v1", b"http://evil.example/v1", 1) + b"\r\n",
        400,
    ),
    "our host in the address": (
        GET.replace(b"/v1/drawers", b"http://localhost/v1/nothing", 1).replace(
            b"Host: localhost", b"Host: evil.example"
        )
        + b"\r\n",
        404,
    ),
    "a handshake of TLS": (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", 400),
    "a space in the address": (GET.replace(b"drawers", b"draw ers") + b"\r\n", 400),
    "a byte in the address": (GET.replace(b"drawers", b"parts/\xff") + b"\r\n", 400),
    "a letter in the address": (GET.replace(b"drawers", "parts/é".encode()) + b"\r\n", 400),
    "a zero in the address": (GET.replace(b"drawers", b"parts/a\x00b") + b"\r\n", 404),
    "a byte in the query": (GET.replace(b"drawers", b"parts?kind=\xff") + b"\r\n", 400),
    "a long address": (GET.replace(b"drawers", b"drawers/" + b"a" * 60_000) + b"\r\n", 404),
    "a longer address": (GET.replace(b"drawers", b"drawers/" + b"a" * 70_000) + b"\r\n", 431),
    # RFC 9110 section 15.6.6: a major version that nobody has written is 505.
    "a version unknown": (GET.replace(b"HTTP/1.1", b"HTTP/9.9") + b"\r\n", 505),
    "a version of old": (GET.replace(b"HTTP/1.1", b"HTTP/0.9") + b"\r\n", 505),
    "an asterisk": (b"OPTIONS * HTTP/1.1\r\n" + HEAD + b"\r\n", 404),
    "a tunnel": (b"CONNECT localhost:1 HTTP/1.1\r\n" + HEAD + b"\r\n", 404),
    "a trace": (b"TRACE /v1/drawers HTTP/1.1\r\n" + HEAD + b"\r\n", 405),
    "a method in small letters": (GET.replace(b"GET", b"get") + b"\r\n", 400),
    "a header without a colon": (GET + b"nonsense\r\n\r\n", 400),
    "a space before the colon": (GET + b"X : a\r\n\r\n", 400),
    "a zero in a header": (GET + b"X: a\x00b\r\n\r\n", 400),
    "a header too large": (GET + b"X: " + b"y" * 70_000 + b"\r\n\r\n", 431),
    "headers too many": (GET + b"X: y\r\n" * 12_000 + b"\r\n", 431),
    "two tokens": (GET + b"Authorization: Bearer x\r\n\r\n", 401),
    "two types": (POST + b"Content-Type: text/plain\r\nContent-Length: 10\r\n\r\n" + BROKEN, 415),
    "two keys": (POST + b"Idempotency-Key: a\r\nIdempotency-Key: b\r\n\r\n", 400),
}


@pytest.mark.parametrize("name", REQUESTS)
def test_odd_bytes_have_their_answer(stocked: tuple[Any, Any], name: str) -> None:
    """A request that is none gets its own status in a problem document, and the end of the line."""
    workshop, running = stocked
    request, status = REQUESTS[name]
    request = request.replace(b"TOKEN", workshop.environment["SPAREWELL_TOKEN"].encode())
    if status == 431:
        # What the server leaves unread at the end would reset the connection, answer and all.
        request = request[:HEADER_LIMIT_BYTES]
    place = urlsplit(running.url)
    with socket.create_connection((place.hostname, place.port), timeout=PATIENCE_SECONDS) as raw:
        raw.sendall(request)
        with raw.makefile("rb") as reader:
            whole = reader.read()
    head, _, body = whole.partition(b"\r\n\r\n")
    assert head.split(b" ")[1] == str(status).encode(), whole[:500]
    assert b"Content-Type: application/problem+json" in head
    assert json.loads(body)["status"] == status
    assert running.process.poll() is None
