"""The server killed under load: what was acknowledged is there, and a retry has one effect."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import subprocess
import sysconfig
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.stock.audit import audit
from support.api import Api

SPAREWELL = Path(sysconfig.get_path("scripts")) / "sparewell"
KILLS = 4
CLIENTS = 4
SEED = 20261125
PATIENCE_SECONDS = 60


class KilledServer:
    """`sparewell serve` as a process of its own, started again after each kill."""

    def __init__(self, database_url: str) -> None:
        self._environment = {**os.environ, "SPAREWELL_DATABASE_URL": database_url}
        self.address = ""
        self._process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        """Start it and wait until it says where it listens."""
        port = self.address.rsplit(":", 1)[1] if self.address else "0"
        self._process = subprocess.Popen(
            [SPAREWELL, "serve", "--port", port],
            env=self._environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdout is not None
        words = self._process.stdout.readline().split()
        self.address = next(word for word in words if word.startswith("http"))

    def kill(self, number: int = signal.SIGKILL) -> int:
        """End it without a chance to say goodbye; return its exit status."""
        assert self._process is not None
        assert self._process.stdout is not None
        self._process.send_signal(number)
        status = self._process.wait(PATIENCE_SECONDS)
        self._process.stdout.close()
        return status


def post(address: str, token: str, body: object, key: str) -> tuple[int, bytes]:
    """Send one request with its key, again and again until it is answered."""
    request = urllib.request.Request(  # noqa: S310 - our own server
        address,
        data=json.dumps(body).encode(),
        headers={
            "Authorization": f"Bearer {token}",
            "Content-Type": "application/json",
            "Idempotency-Key": key,
        },
    )
    end = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(request, timeout=10) as answer:  # noqa: S310
                return answer.status, answer.read()
        except urllib.error.HTTPError as error:
            with error:
                if error.code < 500:
                    return error.code, error.read()
        except (OSError, http.client.HTTPException):
            pass
        time.sleep(0.05)
    raise AssertionError(f"{key} was never answered")


@pytest.mark.timeout(180)
def test_nothing_acknowledged_is_lost_and_nothing_is_done_twice(
    database: Database, database_url: str, api: Api, token_of: Callable[[str], str]
) -> None:
    """After four kills under load every acknowledged promise is there once, and all adds up."""
    lot, token = api.stock(quantity=100_000), token_of("write")
    jobs = [api.job() for _ in range(CLIENTS)]
    server = KilledServer(database_url)
    server.start()
    stop = threading.Event()
    acknowledged: dict[str, tuple[str, tuple[int, bytes]]] = {}

    def client(job: str) -> None:
        number = 0
        while not stop.is_set():
            number += 1
            key, path = f"{job}-{number}", f"/v1/jobs/{job}/reservations"
            body = {"lot": lot["id"], "quantity": 1}
            acknowledged[key] = path, post(server.address + path, token, body, key)

    clients = [threading.Thread(target=client, args=(job,)) for job in jobs]
    for each in clients:
        each.start()
    dice = random.Random(SEED)  # noqa: S311 - a seed to repeat the run with
    for _ in range(KILLS):
        time.sleep(dice.uniform(0.3, 1.2))
        assert server.kill() == -signal.SIGKILL
        server.start()
    time.sleep(0.3)
    stop.set()
    for each in clients:
        each.join(PATIENCE_SECONDS)

    assert len(acknowledged) > 20 * KILLS
    assert {answer[0] for _, answer in acknowledged.values()} == {201}
    for key, (path, answer) in acknowledged.items():
        again = post(server.address + path, token, {"lot": lot["id"], "quantity": 1}, key)
        assert again == answer, f"seed {SEED}: {key} was answered differently"
    assert server.kill(signal.SIGTERM) == 0
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == len(acknowledged)
    with read(database) as session:
        assert audit(session).faults == ()
