"""How fast a whole database is looked through and moved, as ratios to a floor of the same run.

Run with `pytest -m benchmark -s tests/benchmarks`; `-m long` takes a million lots. Nothing is
judged.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from psycopg.types.json import Json
from sqlalchemy import text

from sparewell.app.owners import owners_of_tables
from sparewell.cli.audit import examine
from sparewell.cli.move import prepare, transfer
from sparewell.database.engine import Database, open_database
from sparewell.extend.host import Declarations
from support.many_lots import fill
from support.postgres import Cluster

ROWS = pytest.mark.parametrize(
    "rows",
    [
        pytest.param(100_000, marks=pytest.mark.benchmark),
        pytest.param(1_000_000, marks=[pytest.mark.long, pytest.mark.rest]),
    ],
)
ADDED_UP = text("SELECT count(*), sum(in_hand), sum(promised), sum(cost_minor) FROM lot")
ADDED_UP_BY_LOT = text(
    "SELECT sum(change) FROM (SELECT sum(change) AS change FROM movement GROUP BY lot_id) AS lines"
)
LARGE_TABLES = ("part", "place", "act", "lot", "movement")


def show(what: str, rows: int, seconds: float, floor: float) -> None:
    """Print one figure beside its floor."""
    print(  # noqa: T201 - the figures are the point
        f"\n{what}, {rows} lots: {seconds:.2f} s, {seconds / floor:.1f} x the floor of "
        f"{floor:.2f} s"
    )


@pytest.mark.timeout(1800)
@ROWS
def test_audit_against_reading_every_line(database: Database, rows: int) -> None:
    """The whole audit, against one addition of all lots and one of all lines of the ledger."""
    fill(database, rows)
    start = time.perf_counter()
    found = examine(database)
    seconds = time.perf_counter() - start
    assert (found.lots, found.faults) == (rows, ())
    start = time.perf_counter()
    with database.engine.connect() as connection:
        connection.execute(ADDED_UP).all()
        connection.execute(ADDED_UP_BY_LOT).all()
    floor = time.perf_counter() - start
    show(f"audit ({database.url.get_backend_name()})", rows, seconds, floor)


@contextmanager
def emptied(cluster: Cluster) -> Iterator[Database]:
    """Give a PostgreSQL database in which nothing is."""
    name = cluster.create()
    database = open_database(cluster.url(name))
    yield database
    database.close()
    cluster.drop(name)


def copied_by_hand(source: Database, target: Database) -> float:
    """Return how long it takes to COPY the rows of the large tables that are in the memory."""
    reading, writing = source.engine.raw_connection(), target.engine.raw_connection()
    held = {
        name: [
            [Json(value) if isinstance(value, dict) else value for value in row]
            for row in reading.cursor().execute(f"SELECT * FROM {name}")  # type: ignore[attr-defined]
        ]
        for name in LARGE_TABLES
    }
    start = time.perf_counter()
    for name, lines in held.items():
        with writing.cursor().copy(f"COPY {name} FROM STDIN") as copy:  # type: ignore[attr-defined]
            for line in lines:
                copy.write_row(line)
    writing.commit()
    return time.perf_counter() - start


@pytest.mark.postgres
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@ROWS
def test_move_against_a_copy_by_hand(
    database: Database, cluster: Cluster, declared: Declarations, rows: int
) -> None:
    """A move, which reads all back and audits it, against a mere COPY of the same rows."""
    fill(database, rows)
    owners = owners_of_tables(declared)
    with emptied(cluster) as target, emptied(cluster) as other:
        prepare(target, owners)
        start = time.perf_counter()
        transfer(database, target, owners, "Moving")
        seconds = time.perf_counter() - start
        prepare(other, owners)
        show("move", rows, seconds, copied_by_hand(target, other))
