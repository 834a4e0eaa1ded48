"""How fast a promise and its verbs are, beside a hand-written endpoint of the same durability.

Nothing is judged. Eight clients reserve a piece, fetch it and use it, each for a job of its own,
over connections that they keep; the peer (`support/hand_written.py`) runs on the same server
library, in a process of its own as ours does, a moment before.
"""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import text

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from support import timing
from support.api import Api
from support.postgres import Cluster
from support.server_process import TESTS, environment, served
from support.verbs_load import SECONDS, load

pytestmark = pytest.mark.benchmark
CLIENTS = 8
ROUNDS = 100
PATIENCE_SECONDS = 30.0
_MILLISECONDS = 1000


def show(what: str, figures: str) -> None:
    """Print one line of figures."""
    print(f"\n{what}: {figures}")  # noqa: T201 - the figures are the point


def test_verbs_in_process_against_an_empty_transaction(api: Api, database: Database) -> None:
    """A named bag reserved, fetched and used through the service, without a socket between."""
    lot, job = api.stock(quantity=100_000), api.job()
    times: dict[str, list[float]] = {"reserve": [], "fetch": [], "use": []}

    def timed(verb: str, path: str, body: object = None) -> dict[str, object]:
        began = time.perf_counter()
        reply = api.post(path, body)
        times[verb].append(time.perf_counter() - began)
        assert reply.status < 300, reply.text
        return dict(reply.body)

    for _ in range(ROUNDS):
        wanted = {"lot": lot["id"], "quantity": 1}
        made = timed("reserve", f"/v1/jobs/{job}/reservations", wanted)
        row = made["reservations"][0]["id"]  # type: ignore[index]
        timed("fetch", f"/v1/reservations/{row}/fetch")
        timed("use", f"/v1/reservations/{row}/use")
    floor = timing.median_seconds(
        lambda: write(database, lambda session: session.execute(text("UPDATE act SET id = id")))
    )
    for verb, found in times.items():
        what = f"{verb} in process ({database.url.get_backend_name()})"
        timing.show(what, statistics.median(found), floor)


def test_verbs_of_eight_clients_against_a_hand_written_endpoint(
    api: Api, database: Database, database_url: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Requests a second as a ratio to the peer's, and what the slowest of a hundred waits."""
    lot = api.stock(quantity=1_000_000)["id"]
    jobs = [api.job() for _ in range(CLIENTS)]
    token = write(database, lambda session: new_token(session, "clients", "write", NOW))
    database.close()
    is_sqlite = database.is_sqlite
    if is_sqlite:
        other = f"sqlite:///{tmp_path / 'peer.sqlite3'}"
    else:
        cluster: Cluster = request.getfixturevalue("cluster")
        other = cluster.url(cluster.create())
    with _peer(other) as address:
        theirs = load(address, [f"JOB-{number:04d}" for number in range(CLIENTS)], 1, "")
    with served(database_url, tmp_path) as server:
        ours = load(server.address, jobs, int(lot), token)
    show(
        f"verbs over HTTP, {CLIENTS} clients ({'sqlite' if is_sqlite else 'postgresql'})",
        f"{_rate(ours):.0f} requests a second, p99 {_p99(ours):.0f} ms; peer {_rate(theirs):.0f}, "
        f"p99 {_p99(theirs):.0f} ms; ratio {_rate(ours) / _rate(theirs):.2f}",
    )


def _rate(times: Sequence[float]) -> float:
    return len(times) / SECONDS


def _p99(times: Sequence[float]) -> float:
    return sorted(times)[int(len(times) * 0.99)] * _MILLISECONDS


@contextmanager
def _peer(database_url: str) -> Iterator[str]:
    command = [sys.executable, "-m", "support.hand_written", database_url]
    process = subprocess.Popen(
        command, env=environment(database_url), stdout=subprocess.PIPE, text=True, cwd=TESTS
    )
    assert process.stdout is not None
    try:
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        yield found[0]
    finally:
        process.terminate()
        process.wait(PATIENCE_SECONDS)
        process.stdout.close()
