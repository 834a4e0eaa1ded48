"""One server on one file, and its end."""

from __future__ import annotations

import json
import signal
import socket
import sqlite3
import sys
import threading
import time
from contextlib import closing
from typing import Any
from urllib.parse import urlsplit

import pytest
import urllib3

LARGE_BYTES = 12_000_000
SLOW_SERVER = """
import time
from sparewell.app.server import bind, serve_app

def slow(environ, start_response):
    print("asked", flush=True)
    time.sleep(1.0)
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [b"x" * 12_000_000]

listener = bind("127.0.0.1", 0)
port = listener.getsockname()[1]
serve_app(
    slow,
    listener,
    body_limit_bytes=1024,
    on_listening=lambda: print(f"listens on http://127.0.0.1:{port}", flush=True),
)
"""


def test_one_server_on_one_file(migrated: Any) -> None:
    """A second server and a migration are refused by name while one serves, a token is not."""
    with migrated.serve() as running:
        for arguments in (("serve", "--port", "0"), ("migrate",)):
            ran = migrated.run(*arguments)
            assert ran.status == 1
            assert f"`sparewell serve` (process {running.process.pid})" in ran.err
        assert migrated.run("token", "new", "late", "--scope", "read").status == 0
        assert running.end() == 0
    assert migrated.run("migrate").status == 0


def test_sigterm_lets_a_write_finish(migrated: Any) -> None:
    """A request that waits for the database at SIGTERM is done and answered; then it ends well."""
    token = migrated.run("token", "new", "bench", "--scope", "write").out.strip()
    with (
        migrated.serve() as running,
        closing(sqlite3.connect(migrated.database_file, isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        answers: list[urllib3.BaseHTTPResponse] = []
        client = threading.Thread(
            target=lambda: answers.append(
                urllib3.request(
                    "POST",
                    f"{running.url}/v1/drawers",
                    json={"code": "A3"},
                    headers={"Authorization": f"Bearer {token}"},
                    retries=False,
                )
            )
        )
        client.start()
        time.sleep(0.5)
        running.process.send_signal(signal.SIGTERM)
        time.sleep(1.0)
        assert running.process.poll() is None
        other.execute("ROLLBACK")
        client.join()
        assert answers[0].status == 201
        assert running.process.wait(30) == 0
        (codes,) = other.execute("SELECT count(*) FROM place WHERE code = 'A3'").fetchone()
        assert codes == 1


def nobody_is_let_in(address: tuple[str, int]) -> bool:
    """Whether the server comes to refuse connections, within a few seconds."""
    end = time.monotonic() + 5
    while time.monotonic() < end:
        try:
            socket.create_connection(address).close()
        except ConnectionRefusedError:
            return True
        except ConnectionResetError:
            # It knocked at the very moment: the system resets whom nobody has let in yet.
            pass
        time.sleep(0.02)
    return False


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_an_answer_is_sent_to_its_end(workshop: Any, number: int) -> None:
    """A large answer reaches a slow reader whole after the signal, and nobody new is let in."""
    with workshop.start(sys.executable, "-c", SLOW_SERVER) as running:
        place = urlsplit(running.url)
        with socket.create_connection((place.hostname, place.port), timeout=30) as raw:
            raw.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            while "asked" not in running.out():
                time.sleep(0.02)
            running.process.send_signal(number)
            assert nobody_is_let_in((str(place.hostname), int(place.port or 0)))
            time.sleep(1.2)
            with raw.makefile("rb") as reader:
                whole = reader.read()
        assert whole.count(b"x" * 1000) == LARGE_BYTES // 1000
        assert running.process.wait(30) == 0


def test_idle_and_half_sent_connections_do_not_hold_it_up(workshop: Any) -> None:
    """A connection that says nothing, or stops in the middle, cannot keep the server alive."""
    with workshop.start(sys.executable, "-c", SLOW_SERVER) as running:
        place = urlsplit(running.url)
        with (
            socket.create_connection((place.hostname, place.port)),
            socket.create_connection((place.hostname, place.port)) as half,
        ):
            half.sendall(b"GET / HTTP/1.1\r\nHos")
            time.sleep(0.2)
            began = time.monotonic()
            assert running.end() == 0
            assert time.monotonic() - began < 10


@pytest.mark.parametrize(
    ("head", "status"),
    [
        (b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 99999999\r\n\r\n", 413),
        (b"GET / HTTP/1.1\r\nHost: x\r\nContent-Length: ten\r\n\r\n", 400),
        (b"GET / HTTP/1.1\r\nHost: x\r\nX: ".ljust(64 * 1024, b"y"), 431),
    ],
)
def test_what_never_reaches_the_application_is_a_problem_document(
    workshop: Any, head: bytes, status: int
) -> None:
    """The server's own refusals look like every other refusal."""
    with workshop.start(sys.executable, "-c", SLOW_SERVER) as running:
        place = urlsplit(running.url)
        with socket.create_connection((place.hostname, place.port), timeout=10) as raw:
            raw.sendall(head)
            with raw.makefile("rb") as reader:
                whole = reader.read()
        headers, _, body = whole.partition(b"\r\n\r\n")
        assert b"Content-Type: application/problem+json" in headers
        assert b"X-Content-Type-Options: nosniff" in headers
        assert b"\r\nServer:" not in headers
        problem = json.loads(body)
        assert problem["status"] == status
        assert f"Sparewell-Request: {problem['request']}".encode() in headers


def test_a_taken_port_is_told(migrated: Any) -> None:
    """`serve` and `demo` name --port where another program listens."""
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        port = str(taken.getsockname()[1])
        for command in ("serve", "demo"):
            ran = migrated.run(command, "--port", port)
            assert ran.status == 2
            assert f"port {port} of 127.0.0.1 is taken" in ran.err
            assert "--port" in ran.err


def test_a_body_over_the_limit_gets_its_answer(stocked: Any) -> None:
    """A client that sends too much, and all of it first, is told so and not cut off."""
    workshop, running = stocked
    place = urlsplit(running.url)
    head = (
        "POST /v1/drawers HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Authorization: Bearer {workshop.environment['SPAREWELL_TOKEN']}\r\n"
        "Connection: close\r\nContent-Length: 3000000\r\n\r\n"
    )
    with socket.create_connection((place.hostname, place.port), timeout=30) as raw:
        raw.sendall(head.encode() + b" " * 3_000_000)
        with raw.makefile("rb") as reader:
            answer = reader.read()
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"application/problem+json" in answer


def test_a_name_of_ours_is_needed(migrated: Any) -> None:
    """Further names come from SPAREWELL_ALLOWED_HOSTS, and every other is a bad request."""
    with migrated.serve(SPAREWELL_ALLOWED_HOSTS="Bench.lan") as running:
        for name, status in (("bench.lan", 200), ("evil.lan", 400)):
            response = urllib3.request(
                "GET", f"{running.url}/health/ready", headers={"Host": name}, retries=False
            )
            assert response.status == status


def test_an_open_address_is_warned_of(migrated: Any) -> None:
    """Listening beyond this machine without names for it is said on standard error."""
    with migrated.start(
        migrated.program,
        "serve",
        "--port",
        "0",
        "--host",
        "0.0.0.0",  # noqa: S104 - that is the point
    ) as running:
        assert "SPAREWELL_ALLOWED_HOSTS is not set" in running.err_file.read_text()


def test_header_names_are_spelled_as_the_standard_spells_them(
    stocked: tuple[Any, Any],
) -> None:
    """The tag of a resource comes as ETag and a challenge as WWW-Authenticate (RFC 9110)."""
    workshop, running = stocked
    token = workshop.environment["SPAREWELL_TOKEN"]
    known = urllib3.request(
        "GET", f"{running.url}/v1/lots/1", headers={"Authorization": f"Bearer {token}"}
    )
    assert "ETag" in list(known.headers)
    assert "WWW-Authenticate" in list(urllib3.request("GET", f"{running.url}/v1/lots/1").headers)
