"""Clients that reserve, fetch and use, each for a job of its own, over a connection it keeps."""

from __future__ import annotations

import http.client
import json
import multiprocessing
import time
from collections.abc import Sequence
from urllib.parse import urlsplit

SECONDS = 4.0
_WARM_SECONDS = 0.5


def load(address: str, jobs: Sequence[str], lot: int, token: str) -> list[float]:
    """Let every client work for a while; return how long each request took."""
    context = multiprocessing.get_context("spawn")
    with context.Pool(len(jobs)) as pool:
        rounds = [(address, job, lot, token) for job in jobs]
        pool.starmap(_work, [(*each, _WARM_SECONDS) for each in rounds])  # until everything is warm
        found = pool.starmap(_work, [(*each, SECONDS) for each in rounds], chunksize=1)
    return [seconds for times in found for seconds in times]


def _work(address: str, job: str, lot: int, token: str, seconds: float) -> list[float]:
    place = urlsplit(address)
    connection = http.client.HTTPConnection(str(place.hostname), place.port)
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    times: list[float] = []

    def post(path: str, body: object) -> dict[str, object]:
        began = time.perf_counter()
        connection.request("POST", path, json.dumps(body), headers)
        reply = connection.getresponse()
        data = reply.read()
        times.append(time.perf_counter() - began)
        assert reply.status < 300, data
        return dict(json.loads(data))

    end = time.monotonic() + seconds
    while time.monotonic() < end:
        made = post(f"/v1/jobs/{job}/reservations", {"lot": lot, "quantity": 1})
        row = made["reservations"][0]["id"]  # type: ignore[index]
        post(f"/v1/reservations/{row}/fetch", {})
        post(f"/v1/reservations/{row}/use", {})
    connection.close()
    return times
