"""A full disk refuses writes and loses nothing; a locked database is told within seconds."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
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

from conftest import IN_CI, NOW
from sparewell.database.engine import open_database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from support.server_process import ServerProcess, audit_verdict, served

DISK_BYTES = 12 * 1024 * 1024
MOST_WRITES = 20_000
ASKERS = 12
SECONDS_UNTIL_TOLD = 12.0


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of twelve megabytes. It takes root to make one; in CI that is no excuse."""
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={DISK_BYTES}", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(command, check=False, capture_output=True).returncode:
        if IN_CI:
            pytest.fail("CI cannot mount a tmpfs")
        pytest.skip("only root can mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


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


def test_a_full_disk_refuses_writes_and_loses_nothing(
    small_disk: Path, sqlite_template: Path, tmp_path: Path
) -> None:
    """At the end of the disk: 503 with Retry-After, reads go on, and all that was said is there."""
    file = small_disk / "workshop.sqlite3"
    shutil.copy(sqlite_template, file)
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * (6 * 1024 * 1024))
    url = f"sqlite:///{file}"
    with served(url, tmp_path) as server:
        bench = bench_at(url, server)
        acknowledged: set[str] = set()
        refused: Any = None
        for number in range(MOST_WRITES):
            status, document, headers = bench.drawer(f"D{number}")
            if status != 201:
                refused = (status, document, headers)
                break
            acknowledged.add(f"D{number}")
        assert refused is not None, "the disk never filled"
        status, document, headers = refused
        assert (status, headers["Retry-After"]) == (503, "1"), document
        assert document["type"].endswith("/storage-full")
        assert len(acknowledged) > 100
        for attempt in range(20):
            assert bench.drawer(f"E{attempt}")[0] in {201, 503}
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
    assert refused[1]["status"] == 503
    assert f"D{len(acknowledged)}" not in kept


def test_a_server_killed_on_a_full_disk_comes_back(
    small_disk: Path, sqlite_template: Path, tmp_path: Path
) -> None:
    """A server killed while the disk is full starts again when there is room, with all it said."""
    file = small_disk / "workshop.sqlite3"
    shutil.copy(sqlite_template, file)
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * (9 * 1024 * 1024))
    url = f"sqlite:///{file}"
    server = ServerProcess(url, tmp_path)
    server.start()
    bench = bench_at(url, server)
    acknowledged = set()
    for number in range(MOST_WRITES):
        if bench.drawer(f"D{number}")[0] != 201:
            break
        acknowledged.add(f"D{number}")
    server.end()
    ballast.unlink()
    server.start()
    assert bench.drawer("after")[0] == 201
    server.end()
    assert audit_verdict(url) == []
    assert acknowledged | {"after"} <= codes_in(file)


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
