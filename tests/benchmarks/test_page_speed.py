"""How long pages take in a workshop with very many lots, as ratios to a page that looks nothing up.

Run with `pytest -n 0 -m benchmark -s --part=whole tests/benchmarks`; a million lots with `-m long`.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import pytest
from flask import Flask

from sparewell.database.engine import Database
from support import big_workshop
from support.api import Api
from support.bench import Bench
from support.statements import counted

pytestmark = pytest.mark.benchmark
FLOOR = "/more"
PAGES = (
    "/to-order",
    "/jobs/JOB-0001",
    "/jobs",
    "/pens/PEN-0001",
    "/measure/sac?nipple_diameter=6.4&barrel_bore=8",
    "/find?kind=sac&size=5.9",
    "/drawers",
    "/drawers/B1",
    "/donors",
    "/bags/1001",
)
ROUNDS = 3


@pytest.fixture
def bench(app: Flask, token_of: Callable[[str], str]) -> Bench:
    """A browser of somebody who may write."""
    return Bench(app, token_of("write"), "Odra")


def milliseconds(bench: Bench, path: str) -> float:
    """Return the median time of a page, which has been shown once before."""
    times = []
    for _ in range(ROUNDS + 1):
        start = time.perf_counter()
        assert bench.get(path).status == 200, path
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:]) * 1000


@pytest.mark.parametrize("lots", [10_000, 100_000, pytest.param(1_000_000, marks=pytest.mark.long)])
def test_pages_of_a_big_workshop(bench: Bench, api: Api, database: Database, lots: int) -> None:
    """Each page's time, its ratio to the floor, and its statements."""
    big_workshop.fill(database, api, lots, jobs=100)
    floor = milliseconds(bench, FLOOR)
    print(  # noqa: T201 - the figures are the point
        f"\n{lots:,} lots ({database.url.get_backend_name()}), floor {floor:.1f} ms"
    )
    for path in PAGES:
        took = milliseconds(bench, path)
        with counted(database) as sent:
            bench.get(path)
        print(  # noqa: T201 - as above
            f"  {took:8.1f} ms {took / floor:7.1f} x the floor {len(sent):4} statements  {path}"
        )
