"""Several server processes on one socket: shared work, replacement, and an end for all of them."""

from __future__ import annotations

import json
import os
import re
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import psycopg
import pytest
import urllib3

from sparewell.app.server import bind
from sparewell.app.workers import Workers, WorkersFailed
from support import postgres

pytestmark = pytest.mark.rest

WORKERS = 3
PATIENCE_SECONDS = 30.0


@dataclass
class Served:
    """A server of three workers, a token for it, and its database."""

    running: Any
    token: str
    database_url: str

    def ask(self, code: str) -> int:
        """Make a drawer and return the status."""
        answer = urllib3.request(
            "POST",
            f"{self.running.url}/v1/drawers",
            json={"code": code},
            headers={"Authorization": f"Bearer {self.token}"},
            retries=False,
            timeout=PATIENCE_SECONDS,
        )
        return answer.status

    @property
    def workers(self) -> set[int]:
        """The processes that serve."""
        parent = self.running.process.pid
        children = Path(f"/proc/{parent}/task/{parent}/children").read_text()
        return {int(child) for child in children.split()}


@pytest.fixture
def served(workshop: Any, cluster: postgres.Cluster, postgres_template: str) -> Iterator[Served]:
    """Three workers on a migrated, empty PostgreSQL database; their log has every request."""
    name = cluster.create(template=postgres_template)
    url = cluster.url(name)
    workshop.environment |= {"SPAREWELL_DATABASE_URL": url, "SPAREWELL_LOG_LEVEL": "info"}
    token = workshop.run("token", "new", "bench", "--scope", "write").out.strip()
    command = (workshop.program, "serve", "--port", "0", "--workers", str(WORKERS))
    with workshop.start(*command) as running:
        yield Served(running, token, url)
    cluster.drop(name)


def wait_until(reached: Callable[[], bool]) -> None:
    """Wait for a condition, with a limit."""
    end = time.monotonic() + PATIENCE_SECONDS
    while not reached():
        assert time.monotonic() < end
        time.sleep(0.05)


def is_gone(process: int) -> bool:
    """Whether a process has ended; one that nobody has waited for yet counts as ended."""
    try:
        return ") Z " in Path(f"/proc/{process}/stat").read_text()
    except FileNotFoundError:
        return True


@pytest.mark.postgres
def test_each_worker_answers(served: Served) -> None:
    """The log shows that more than one process answered, and each answer is right."""
    with ThreadPoolExecutor(8) as pool:
        statuses = list(pool.map(served.ask, [f"A{number}" for number in range(80)]))
    assert statuses == [201] * 80
    lines = [json.loads(line) for line in served.running.err_file.read_text().splitlines()]
    answered = {line["process"] for line in lines if line["says"] == "answered"}
    assert len(answered) > 1
    assert answered <= served.workers


@pytest.mark.postgres
def test_a_killed_worker_is_replaced(served: Served) -> None:
    """After one is killed there are as many again, and requests are answered throughout."""
    victim = min(served.workers)
    os.kill(victim, signal.SIGKILL)
    assert [served.ask(f"B{number}") for number in range(10)] == [201] * 10
    wait_until(lambda: len(served.workers - {victim}) == WORKERS)
    wait_until(
        lambda: f"worker {victim} ended with -9" in served.running.err_file.read_text(),
    )


@pytest.mark.postgres
def test_a_signal_ends_them_all_after_their_answers(served: Served) -> None:
    """Requests in flight at SIGTERM are answered by every worker; then no process is left."""
    workers = served.workers
    address = re.sub(r"^postgresql\+psycopg", "postgresql", served.database_url)
    with ThreadPoolExecutor(4) as pool:
        with psycopg.connect(address) as other:
            other.execute("LOCK TABLE place IN ACCESS EXCLUSIVE MODE")
            asked = [pool.submit(served.ask, code) for code in ("C1", "C2", "C3", "C4")]
            time.sleep(0.5)
            served.running.process.send_signal(signal.SIGTERM)
            time.sleep(0.5)
            assert served.running.process.poll() is None
        assert [each.result() for each in asked] == [201] * 4
    assert served.running.process.wait(PATIENCE_SECONDS) == 0
    assert all(is_gone(worker) for worker in workers)


@pytest.mark.postgres
def test_no_worker_outlives_a_killed_parent(served: Served) -> None:
    """When the parent is killed its workers end by themselves and let go of the port."""
    workers = served.workers
    served.running.end(signal.SIGKILL)
    wait_until(lambda: all(is_gone(worker) for worker in workers))
    place = urlsplit(served.running.url)
    assert place.hostname
    assert place.port
    bind(place.hostname, place.port).close()


def test_workers_need_postgresql(migrated: Any) -> None:
    """On an SQLite file more than one worker is refused, with the reason."""
    ran = migrated.run("serve", "--workers", "2", "--port", "0")
    assert ran.status == 2
    assert "an SQLite file is served by one process" in ran.err


def test_workers_that_cannot_start_are_given_up() -> None:
    """Workers that end at once, again and again, end the server too, instead of staying."""
    announced: list[bool] = []
    workers = Workers("sparewell.cli.no_such_module", [], bind("127.0.0.1", 0), 2)
    with pytest.raises(WorkersFailed):
        workers.run(lambda: announced.append(True))
    assert not announced
