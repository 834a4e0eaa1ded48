"""How fast the main things are, as ratios to a floor measured in the same run. Nothing is judged.

Run with `pytest -m benchmark -s tests/benchmarks`. The floor of a promise is an empty write
transaction.
"""

from __future__ import annotations

import pytest
from sqlalchemy import text

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.extend.host import Declarations
from sparewell.measure.length import parse_length
from sparewell.reservations.promising import NewPromise, promise_all
from sparewell.work import Actor, Work
from support.api import BODY, Api
from support.timing import median_seconds, show

pytestmark = pytest.mark.benchmark


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
