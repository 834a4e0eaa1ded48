"""How fast the main things are, as ratios to a floor measured in the same run. Nothing is judged.

Run with `pytest -m benchmark -s tests/benchmarks`. The floor of a search is one look-up by id
through the same session; the floor of a promise is an empty write transaction.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import pytest
from sqlalchemy import text

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.extend.declarations import Range
from sparewell.extend.host import Declarations
from sparewell.lots import search
from sparewell.lots.tables import Lot
from sparewell.measure.length import parse_length
from sparewell.reservations.promising import NewPromise, promise_all
from sparewell.work import Actor, Work
from support.api import BODY, Api
from support.many_lots import fill

pytestmark = pytest.mark.benchmark
ROWS = 100_000
ROUNDS = 200


def median_seconds(action: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the median time of an action."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def show(what: str, seconds: float, floor: float) -> None:
    """Print one figure beside its floor."""
    print(  # noqa: T201 - the figures are the point
        f"\n{what}: {seconds * 1000:.2f} ms, {seconds / floor:.1f} x the floor "
        f"of {floor * 1000:.2f} ms"
    )


def test_range_search_among_many_lots(database: Database) -> None:
    """The search by dimension, 200 nearest of 100,000 lots, against one look-up by id."""
    fill(database, ROWS)
    with read(database) as session:

        def find() -> None:
            session.expunge_all()
            ranges = {"outside_diameter": Range(5_900_000, 5_950_000)}
            found = search.nearest(session, "sac", "outside_diameter", 5_925_000, ranges)
            assert len(found) == search.MOST_JUDGED

        def look_up() -> None:
            session.expunge_all()
            assert session.get(Lot, 500) is not None

        show(
            f"search ({database.url.get_backend_name()})",
            median_seconds(find),
            median_seconds(look_up),
        )


def test_promise_against_an_empty_transaction(
    api: Api, database: Database, declared: Declarations
) -> None:
    """One promise with its reservation, against a write transaction that does nothing."""
    lot = api.stock(quantity=1000)
    api.job()

    def promise() -> None:
        def do(session: object) -> None:
            work = Work(session, NOW, Actor("bench"), declared)  # type: ignore[arg-type]
            assert promise_all(work, [NewPromise(lot["id"], 1, 1)], None)

        write(database, do)

    def nothing() -> None:
        write(database, lambda session: session.execute(text("UPDATE act SET note = note")))

    show(
        f"promise ({database.url.get_backend_name()})",
        median_seconds(promise),
        median_seconds(nothing),
    )


def test_some_hundreds_of_rings_against_one_sac(api: Api) -> None:
    """An O-ring answer, which judges every table size, against one sac calculation."""
    gland = {"gland": "piston", "bore": "7.6 mm", "groove_diameter": "4.6 mm", "duty": "moving"}

    def rings() -> None:
        assert api.post("/v1/calculators/o_ring", gland).status == 200

    def sac() -> None:
        assert api.post("/v1/calculators/sac", BODY).status == 200

    show("O-ring over HTTP", median_seconds(rings, 20), median_seconds(sac, 20))


def test_calculation_against_parsing_its_input(api: Api) -> None:
    """One sac calculation over HTTP with drawing, against parsing its four lengths."""

    def calculate() -> None:
        assert api.post("/v1/calculators/sac", BODY).status == 200

    def parse() -> None:
        for value in BODY.values():
            parse_length(value)

    show("calculation over HTTP", median_seconds(calculate, 50), median_seconds(parse))
