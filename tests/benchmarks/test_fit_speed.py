"""How fast a whole fit is answered, in the process and over HTTP; nothing is judged.

Run with `pytest -n 0 -m benchmark -s tests/benchmarks`, and with `-m long` for a million lots. In
the process the floor is one look-up by id; over HTTP it is the same fit written by hand
(`support/peer.py`), served by the same library in a process of its own.
"""

from __future__ import annotations

import http.client
import json
import re
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from sparewell.extend.values import read_value
from sparewell.fitting.operations import fit, run_of
from sparewell.lots.tables import Lot
from sparewell.work import Actor, Work
from support.api import BODY
from support.many_lots import fill, measured, nominal
from support.server_process import environment, served
from support.timing import beside, show

pytestmark = pytest.mark.benchmark
SIZES = [(10_000, 100_000), pytest.param((10_000, 1_000_000), marks=pytest.mark.long)]
CLIENTS = 8
SECONDS = 4.0
FITS: dict[str, dict[str, Any]] = {
    "sac": BODY,
    "o_ring": {"gland": "piston", "bore": "7.6 mm", "groove_diameter": "4.6 mm", "duty": "moving"},
    "packing": {"bore": "8 mm", "rod": "2 mm", "seat_depth": "4 mm"},
    "head_washer": {"backing_washer": "8 mm", "head_stem": "2 mm", "barrel_bore": "9 mm"},
    "pressure_bar": {"barrel_depth": "62 mm", "barrel_bore": "8 mm", "bar_width": "4 mm"},
    "spring": {
        "wire_diameter": "0.4 mm",
        "outside_diameter": "5 mm",
        "total_coils": "12",
        "free_length": "15 mm",
    },
}


def _fitting(database: Database, declared: Declarations, calculator: str) -> Callable[[], object]:
    """Return what answers a fit as a request does, in a session of its own."""
    body = FITS[calculator]
    inputs = {each.name: each for each in declared.calculators[calculator].inputs}

    def answer() -> object:
        with read(database) as session:
            work = Work(session, NOW, Actor("benchmark"), declared)
            given = {name: read_value(inputs[name], value) for name, value in body.items()}
            return fit(work, run_of(work, calculator, given))

    return answer


def _look_up(database: Database) -> Callable[[], object]:
    def look_up() -> object:
        with read(database) as session:
            return session.get(Lot, 500)

    return look_up


@pytest.mark.timeout(1800)
@pytest.mark.parametrize("sizes", SIZES, ids=["thousands", "million"])
@pytest.mark.parametrize("said", [measured, nominal])
def test_whole_fit_in_process(
    database: Database,
    declared: Declarations,
    said: Callable[[int], dict[str, object]],
    sizes: tuple[int, ...],
) -> None:
    """A sac fit with its drawing among ten thousand lots, and among many more, with its growth."""
    kept, least = 0, None
    for rows in sizes:
        fill(database, rows, said, kept)
        kept = rows
        seconds, floor = beside(_fitting(database, declared, "sac"), _look_up(database))
        what = f"sac fit, {database.url.get_backend_name()}, {said.__name__}, {rows} lots"
        show(what, seconds, floor, "one look-up")
        least = least or seconds
        show(f"{what}: growth", seconds, least, "that among the fewest")


def test_fits_of_every_calculator(database: Database, declared: Declarations) -> None:
    """A fit by each calculator that chooses pieces, among two thousand lots of its kind."""
    for calculator in FITS:
        kind = declared.kinds[declared.calculators[calculator].kind or ""]
        fill(database, 2_000, _of_kind(kind.name, kind.led_by), code=calculator)
        seconds, floor = beside(_fitting(database, declared, calculator), _look_up(database), 30)
        show(f"{calculator} fit, {database.url.get_backend_name()}", seconds, floor, "one look-up")


def _of_kind(kind: str, lead: str) -> Callable[[int], dict[str, object]]:
    """Return what is said of lots of a kind: its dimensions, spread about those that are wanted."""

    def said(number: int) -> dict[str, object]:
        size = 2_000_000 + number * 7919 % 8_000_000
        return {
            "kind": kind,
            "material": "nbr",
            "measured": {lead: "as filled"},
            "outside_diameter_nanometres": size,
            "inside_diameter_nanometres": size // 2,
            "cross_section_nanometres": 1_780_000,
            "thickness_nanometres": 1_000_000,
            "width_nanometres": size,
            "wire_diameter_nanometres": 400_000,
            "length_nanometres": 15_000_000,
        }

    return said


@contextmanager
def _peer(file: Path) -> Iterator[str]:
    """Give the address of the fit written by hand, served by a process of its own."""
    process = subprocess.Popen(
        [sys.executable, "-m", "support.peer", str(file)],
        env=environment(""),
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        yield found[0]
    finally:
        process.terminate()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


class _Client:
    """One connection that is kept."""

    def __init__(self, address: str, path: str, token: str) -> None:
        place = urlsplit(address)
        self._connection = http.client.HTTPConnection(str(place.hostname), place.port)
        self._headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        self._path = path

    def ask(self) -> object:
        """Send one fit, and read its answer."""
        self._connection.request("POST", self._path, json.dumps(BODY), self._headers)
        answer = self._connection.getresponse()
        found = json.loads(answer.read())
        assert len(found["candidates"]) == 20, found
        return found

    def close(self) -> None:
        """Let go of the connection."""
        self._connection.close()


def _requests_a_second(clients: list[_Client]) -> float:
    """Return how many fits several clients are answered in a second, each asking all the time."""
    counts = [0] * len(clients)
    end = time.perf_counter() + SECONDS

    def ask(position: int) -> None:
        while time.perf_counter() < end:
            clients[position].ask()
            counts[position] += 1

    threads = [threading.Thread(target=ask, args=(number,)) for number in range(len(clients))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(counts) / SECONDS


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_fit_over_http_against_one_written_by_hand(
    database: Database, database_url: str, tmp_path: Path
) -> None:
    """One client's median, and eight clients' requests a second, beside those of the peer."""
    fill(database, 10_000)
    token = write(database, lambda session: new_token(session, "benchmark", "read", NOW))
    database.close()
    assert database.file is not None
    with served(database_url, tmp_path) as server, _peer(database.file) as peer:
        ours = [_Client(server.address, "/v1/fits/sac", token) for _ in range(CLIENTS)]
        theirs = [_Client(peer, "/fit", token) for _ in range(CLIENTS)]
        seconds, floor = beside(ours[0].ask, theirs[0].ask, choose=statistics.median)
        show("sac fit over HTTP, one client", seconds, floor, "the one by hand")
        rates = [_requests_a_second(each) for each in (ours, theirs)]
        print(  # noqa: T201 - the figures are the point
            f"\nsac fits over HTTP, eight clients: {rates[0]:.0f} a second, "
            f"{rates[0] / rates[1]:.2f} x the one by hand of {rates[1]:.0f}"
        )
        for client in (*ours, *theirs):
            client.close()
