"""The server, or the database under it, ended without warning while clients are at work.

Clients ask again under their keys until they are told what became of a request. So in the end the
ledger is exactly what they were told, as if nothing had happened.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sparewell.app.owners import owners_of_tables
from sparewell.database import migrate
from sparewell.database.engine import open_database
from sparewell.extend.host import Declarations
from support import postgres
from support.runs import Place, kill_a_worker, run_database_crashes, run_kills

pytestmark = pytest.mark.rest

SEED = 20261125


@pytest.mark.timeout(1200)
@pytest.mark.parametrize(
    "kills", [10, pytest.param(100, marks=pytest.mark.long)], ids=["short", "long"]
)
def test_a_killed_server_loses_nothing_and_does_nothing_twice(
    database_url: str, tmp_path: Path, kills: int
) -> None:
    """Whatever was acknowledged before a kill is there after it, once, and the audit agrees."""
    print("\n" + run_kills(Place(database_url, tmp_path), SEED, kills))


@pytest.mark.timeout(600)
@pytest.mark.parametrize(
    "database_url", [pytest.param("postgresql", marks=pytest.mark.postgres)], indirect=True
)
@pytest.mark.parametrize(
    "kills", [3, pytest.param(30, marks=pytest.mark.long)], ids=["short", "long"]
)
def test_a_killed_worker_loses_nothing_and_does_nothing_twice(
    database_url: str, tmp_path: Path, kills: int
) -> None:
    """One of two workers killed again and again is replaced, and nobody's request is lost."""
    line = run_kills(Place(database_url, tmp_path, workers=2), SEED, kills, kill_a_worker)
    print("\n" + line)


@pytest.mark.postgres
@pytest.mark.timeout(600)
@pytest.mark.parametrize(
    "crashes", [3, pytest.param(12, marks=pytest.mark.long)], ids=["short", "long"]
)
@pytest.mark.usefixtures("cluster")
def test_a_crashed_postgresql_loses_nothing_and_does_nothing_twice(
    declared: Declarations, tmp_path: Path, crashes: int
) -> None:
    """Clients are told to come back, and what they asked for is done once."""
    found = postgres.binaries()
    assert found is not None
    with postgres.cluster(found, durable=True) as running:
        url = running.url(running.create())
        database = open_database(url)
        migrate.upgrade(database, owners_of_tables(declared))
        database.close()
        place = Place(url, tmp_path)
        line = run_database_crashes(place, SEED, running.restart_at_once, crashes)
    print("\n" + line)
