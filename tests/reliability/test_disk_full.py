"""A full disk refuses writes and loses nothing; a locked database is told within seconds."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from conftest import IN_CI, NOW
from sparewell.app.owners import owners_of_tables
from sparewell.database import migrate
from sparewell.database.engine import open_database
from sparewell.database.transaction import read, write
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from sparewell.places.tables import Place
from support import postgres
from support.server_process import ServerProcess, audit_verdict, served

pytestmark = pytest.mark.rest

MEGABYTE = 1024 * 1024
MOST_WRITES = 20_000
ASKERS = 12
SECONDS_UNTIL_TOLD = 12.0


@pytest.fixture
def small_disk(request: pytest.FixtureRequest) -> Iterator[Path]:
    """A disk of so many megabytes. It takes root to make one; in CI that is no excuse."""
    folder = Path(tempfile.mkdtemp(prefix="sparewell-disk-"))
    folder.chmod(0o755)  # PostgreSQL's own account has to reach what is in it
    command = ["mount", "-t", "tmpfs", "-o", f"size={request.param}m", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(command, check=False, capture_output=True).returncode:
        if IN_CI:
            pytest.fail("CI cannot mount a tmpfs")
        pytest.skip("only root can mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)
    folder.rmdir()


@dataclass
class Bench:
    """A client of a server."""

    server: ServerProcess
    token: str

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, Any, Any]:
        """Send a request; return the status, the document and the headers."""
        request = urllib.request.Request(  # noqa: S310 - our own server
            self.server.address + path,
            data=None if body is None else json.dumps(body).encode(),
            method=method,
            headers={
                "Authorization": f"Bearer {self.token}",
                "Content-Type": "application/json",
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310
                return answer.status, json.load(answer), answer.headers
        except urllib.error.HTTPError as error:
            with error:
                return error.code, json.load(error), error.headers

    def drawer(self, code: str) -> tuple[int, Any, Any]:
        """Make a drawer with a long note."""
        return self.ask("POST", "/v1/drawers", {"code": code, "note": "n" * 1900})


def bench_at(url: str, server: ServerProcess) -> Bench:
    """Return a client with a new token."""
    database = open_database(url)
    token = write(database, lambda session: new_token(session, "bench", "write", NOW))
    database.close()
    return Bench(server, token)


def codes_in(file: Path) -> set[str]:
    """Return the drawers that are in a file."""
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return {code for (code,) in connection.execute("SELECT code FROM place")}


def fill(bench: Bench, name: str) -> tuple[set[str], tuple[int, Any, Any]]:
    """Make drawers until one is refused; return what was acknowledged, and the refusal."""
    acknowledged: set[str] = set()
    for number in range(MOST_WRITES):
        answer = bench.drawer(f"{name}{number}")
        if answer[0] != 201:
            return acknowledged, answer
        acknowledged.add(f"{name}{number}")
    raise AssertionError("the disk never filled")


def refused_for_want_of_room(answer: tuple[int, Any, Any]) -> bool:
    """Whether an answer says that the disk is full, and that a later try may succeed."""
    status, document, headers = answer
    is_full = document["type"].endswith("/storage-full")
    return status == 503 and is_full and headers["Retry-After"] == "1"


@pytest.mark.parametrize("small_disk", [12], indirect=True)
def test_a_full_disk_refuses_writes_and_loses_nothing(
    small_disk: Path, sqlite_template: Path, tmp_path: Path
) -> None:
    """At the end of the disk: 503 with Retry-After, reads go on, and all that was said is there."""
    file, ballast = small_disk / "workshop.sqlite3", small_disk / "ballast"
    shutil.copy(sqlite_template, file)
    ballast.write_bytes(b"x" * (6 * MEGABYTE))
    url = f"sqlite:///{file}"
    with served(url, tmp_path) as server:
        bench = bench_at(url, server)
        acknowledged, refused = fill(bench, "D")
        assert refused_for_want_of_room(refused)
        assert len(acknowledged) > 100
        assert all(bench.drawer(f"E{number}")[0] in {201, 503} for number in range(20))
        assert bench.ask("GET", "/v1/drawers/D0")[0] == 200
        assert bench.ask("GET", "/health/ready")[0] == 503
        assert audit_verdict(url) == []
        assert acknowledged <= codes_in(file)
        ballast.unlink()
        assert bench.drawer("after")[0] == 201
        assert bench.ask("GET", "/health/ready")[0] == 200
    assert audit_verdict(url) == []
    kept = codes_in(file)
    assert acknowledged | {"after"} <= kept
    assert f"D{len(acknowledged)}" not in kept


@pytest.mark.parametrize("small_disk", [12], indirect=True)
def test_a_server_killed_on_a_full_disk_comes_back(
    small_disk: Path, sqlite_template: Path, tmp_path: Path
) -> None:
    """A server killed while the disk is full starts again when there is room, with all it said."""
    file, ballast = small_disk / "workshop.sqlite3", small_disk / "ballast"
    shutil.copy(sqlite_template, file)
    ballast.write_bytes(b"x" * (9 * MEGABYTE))
    url = f"sqlite:///{file}"
    server = ServerProcess(url, tmp_path)
    server.start()
    bench = bench_at(url, server)
    acknowledged, _ = fill(bench, "D")
    server.end()
    ballast.unlink()
    server.start()
    assert bench.drawer("after")[0] == 201
    server.end()
    assert audit_verdict(url) == []
    assert acknowledged | {"after"} <= codes_in(file)


def made(bench: Bench, code: str) -> bool:
    """Whether a drawer is made, now or as soon as the database is back."""
    end = time.monotonic() + SECONDS_UNTIL_TOLD
    while (status := bench.drawer(code)[0]) == 503 and time.monotonic() < end:
        time.sleep(0.1)
    return status == 201


@pytest.mark.postgres
@pytest.mark.parametrize("small_disk", [90], indirect=True)
@pytest.mark.usefixtures("cluster")
def test_a_full_disk_under_postgresql_loses_nothing_either(
    small_disk: Path, declared: Declarations, tmp_path: Path
) -> None:
    """PostgreSQL out of room is told in the same words, and all that was said is there."""
    found = postgres.binaries()
    assert found
    with postgres.cluster(found, durable=True, parent=small_disk) as small:
        url = small.url(small.create())
        with closing(open_database(url)) as database:
            migrate.upgrade(database, owners_of_tables(declared))
            # A whole new segment of its log, so that it is the tables that want for room.
            with database.engine.connect() as connection:
                connection.exec_driver_sql("SELECT pg_switch_wal()")
        with served(url, tmp_path) as server:
            bench = bench_at(url, server)
            assert bench.drawer("before")[0] == 201
            ballast = small_disk / "ballast"
            room = shutil.disk_usage(small_disk).free - 3 * MEGABYTE
            ballast.write_bytes(b"x" * room)
            acknowledged, refused = fill(bench, "D")
            assert refused_for_want_of_room(refused)
            reading, _, _ = bench.ask("GET", "/v1/drawers?limit=1")
            assert reading in {200, 503}
            ballast.unlink()
            if reading == 503:
                # Without room for a checkpoint PostgreSQL gives itself up, and is started again.
                small.restart_at_once()
            assert made(bench, "after")
        assert audit_verdict(url) == []
        with closing(open_database(url)) as database, read(database) as session:
            kept = set(session.scalars(select(Place.code)))
    assert acknowledged | {"after"} <= kept
    assert f"D{len(acknowledged)}" not in kept


def test_a_file_locked_by_another_program_is_told_to_everybody_soon(
    sqlite_template: Path, tmp_path: Path
) -> None:
    """Twelve writers that wait for a locked file hear 503 within seconds; later they are served."""
    file = tmp_path / "workshop.sqlite3"
    shutil.copy(sqlite_template, file)
    url = f"sqlite:///{file}"
    with served(url, tmp_path) as server:
        bench = bench_at(url, server)
        with (
            closing(sqlite3.connect(file, isolation_level=None)) as other,
            ThreadPoolExecutor(ASKERS) as pool,
        ):
            other.execute("BEGIN IMMEDIATE")
            began = time.monotonic()
            asked = [pool.submit(bench.drawer, f"L{number}") for number in range(ASKERS)]
            assert bench.ask("GET", "/v1/drawers")[0] == 200, "reading does not wait"
            for each in asked:
                status, document, headers = each.result()
                assert (status, headers["Retry-After"]) == (503, "1")
                assert document["type"].endswith("/busy")
            assert time.monotonic() - began < SECONDS_UNTIL_TOLD
            other.execute("ROLLBACK")
        assert not {code for code in codes_in(file) if code.startswith("L")}
        assert bench.drawer("L0")[0] == 201
