"""Crowds that want to keep everybody else out, while eight people work at the bench."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
import urllib3
from sqlalchemy import insert, make_url

from sparewell.database.engine import open_database
from sparewell.database.transaction import write
from sparewell.edge.context import utc_now
from sparewell.edge.tokens import new_token
from sparewell.places.tables import Place
from support.server_process import ServerProcess, audit_verdict, served

pytestmark = pytest.mark.rest

PEOPLE = 8
LOAD_SECONDS = 2.5
ANSWER_SECONDS = 1.0


class Crowded:
    """A server, a token, and what is needed to press upon it."""

    def __init__(self, server: ServerProcess, token: str, database_url: str) -> None:
        self.server, self.token, self.database_url = server, token, database_url
        place = urlsplit(server.address)
        self.address = (str(place.hostname), int(place.port or 0))

    def ask(self, method: str, path: str, **more: Any) -> urllib3.BaseHTTPResponse:
        """Ask once, over a connection of its own."""
        headers = {"Authorization": f"Bearer {self.token}", "Connection": "close"}
        return urllib3.request(
            method,
            self.server.address + path,
            headers=headers,
            retries=False,
            timeout=30,
            **more,
        )

    def knock(self) -> socket.socket:
        """Open a connection and say nothing."""
        return socket.create_connection(self.address, timeout=10)

    def answer_seconds(self, path: str = "/health/live") -> float:
        """How long an answer takes."""
        began = time.monotonic()
        assert self.ask("GET", path).status == 200
        return time.monotonic() - began


@pytest.fixture
def crowded(database_url: str, tmp_path: Path) -> Iterator[Crowded]:
    """A server on either database; the ledger has to balance at the end."""
    database = open_database(database_url)
    token = write(database, lambda session: new_token(session, "bench", "admin", utc_now()))
    database.close()
    with served(database_url, tmp_path) as server:
        yield Crowded(server, token, database_url)
    assert not audit_verdict(database_url)


class Person(threading.Thread):
    """Somebody who reads and writes at the bench and minds how long it takes."""

    def __init__(self, crowded: Crowded, number: int, until: float) -> None:
        super().__init__()
        self._crowded, self._number, self._until = crowded, number, until
        self.seconds: list[float] = []
        self.refused: list[int] = []
        self.written: list[str] = []

    def run(self) -> None:
        """Work until the time is over."""
        while time.monotonic() < self._until:
            code = f"P{self._number}-{len(self.seconds)}"
            for method, path, body in (
                ("POST", "/v1/drawers", {"code": code}),
                ("GET", "/v1/drawers", None),
            ):
                began = time.monotonic()
                status = self._crowded.ask(method, path, json=body).status
                self.seconds.append(time.monotonic() - began)
                if status not in {200, 201}:
                    self.refused.append(status)
                elif method == "POST":
                    self.written.append(code)


def work_meanwhile(crowded: Crowded) -> None:
    """Let eight people work: every request is answered, 99 of 100 in a second, nothing is lost."""
    end = time.monotonic() + LOAD_SECONDS
    people = [Person(crowded, number, end) for number in range(PEOPLE)]
    for person in people:
        person.start()
    live = [crowded.answer_seconds() for _ in range(5)]
    for person in people:
        person.join()
    seconds = sorted(each for person in people for each in person.seconds)
    assert [each for person in people for each in person.refused] == []
    assert len(seconds) > 10 * PEOPLE
    assert seconds[int(len(seconds) * 0.99)] < ANSWER_SECONDS
    assert max(live) < ANSWER_SECONDS
    written = {code for person in people for code in person.written}
    assert written <= drawers(crowded)


def drawers(crowded: Crowded) -> set[str]:
    """Return the codes of all drawers there are."""
    codes: set[str] = set()
    path: str | None = "/v1/drawers?limit=200"
    while path:
        body = crowded.ask("GET", path).json()
        codes |= {each["code"] for each in body["drawers"]}
        path = body.get("next")
    return codes


@contextmanager
def dripping(crowded: Crowded, count: int, start: bytes) -> Iterator[list[socket.socket]]:
    """Hold many connections that send a byte now and then."""
    stop = threading.Event()
    with ExitStack() as stack:
        held = [stack.enter_context(closing(crowded.knock())) for _ in range(count)]

        def drip() -> None:
            while not stop.wait(1.0):
                for each in held:
                    try:
                        each.sendall(b"y")
                    except OSError:
                        continue

        for each in held:
            try:
                each.sendall(start)
            except OSError:
                continue
        thread = threading.Thread(target=drip)
        thread.start()
        try:
            yield held
        finally:
            stop.set()
            thread.join()


@pytest.mark.parametrize(
    "start",
    [
        b"GET /v1/drawers HTTP/1.1\r\nHost: localhost\r\nX: ",
        b"POST /v1/drawers HTTP/1.1\r\nHost: localhost\r\nContent-Length: 900000\r\n\r\n",
        b"",
    ],
    ids=["heads", "bodies", "silent"],
)
def test_slow_senders_keep_nobody_out(crowded: Crowded, start: bytes) -> None:
    """Four hundred connections that drip a request do not delay anybody who asks for one."""
    with dripping(crowded, 400, start):
        work_meanwhile(crowded)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_head_has_to_come_in_time(crowded: Crowded) -> None:
    """However steadily the bytes come, after ten seconds the answer is 408."""
    with dripping(crowded, 1, b"GET / HTTP/1.1\r\nHost: localhost\r\nX: ") as held:
        held[0].settimeout(20)
        began = time.monotonic()
        with held[0].makefile("rb") as reader:
            assert b" 408 " in reader.readline()
        assert 8 < time.monotonic() - began < 15


@contextmanager
def foreign_lock(database_url: str) -> Iterator[None]:
    """Hold a lock from elsewhere that no writer gets past."""
    if database_url.startswith("sqlite"):
        database = open_database(database_url)
        with database.writer.connect() as connection, connection.begin():
            yield
        database.close()
        return
    address = make_url(database_url).set(drivername="postgresql")
    with psycopg.connect(address.render_as_string(hide_password=False)) as connection:
        connection.execute("LOCK TABLE place IN SHARE MODE")
        yield
        connection.rollback()


def test_writers_who_wait_keep_no_reader_waiting(crowded: Crowded) -> None:
    """Behind a foreign lock some writers wait, the rest are told to come again; reads go on."""
    answers: list[tuple[int, float, str | None]] = []

    def post(number: int) -> None:
        began = time.monotonic()
        answer = crowded.ask("POST", "/v1/drawers", json={"code": f"W{number}"})
        taken = time.monotonic() - began
        answers.append((answer.status, taken, answer.headers.get("Retry-After")))

    with foreign_lock(crowded.database_url):
        writers = [threading.Thread(target=post, args=(number,)) for number in range(40)]
        for writer in writers:
            writer.start()
        time.sleep(0.5)
        assert max(crowded.answer_seconds() for _ in range(10)) < ANSWER_SECONDS
        assert crowded.answer_seconds("/v1/drawers") < ANSWER_SECONDS
        for writer in writers:
            writer.join()
        late = time.monotonic()
    assert {(status, retry) for status, _, retry in answers} == {(503, "1")}
    assert max(seconds for _, seconds, _ in answers) < 10
    assert sorted(seconds for _, seconds, _ in answers)[30] < 6
    assert time.monotonic() - late < 30
    work_meanwhile(crowded)


def test_readers_who_do_not_read_hold_nobody_up(crowded: Crowded) -> None:
    """Twelve exports that nobody takes off the line leave every thread to the others."""
    database = open_database(crowded.database_url)

    same = {"type": "drawer", "note": "n" * 1900, "created_at": utc_now()}
    many = [{"code": f"F{number}", **same} for number in range(9000)]
    write(database, lambda session: session.execute(insert(Place), many))
    database.close()
    head = (
        "GET /v1/export.json HTTP/1.1\r\nHost: localhost\r\n"
        f"Authorization: Bearer {crowded.token}\r\n\r\n"
    )
    with ExitStack() as stack:
        for _ in range(12):
            stalled = stack.enter_context(closing(socket.socket()))
            stalled.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            stalled.connect(crowded.address)
            stalled.sendall(head.encode())
        work_meanwhile(crowded)
