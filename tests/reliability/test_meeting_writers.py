"""Two writers who meet at one row of PostgreSQL, at the moment that random races hit now and then.

On SQLite writers never meet: they queue.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest
from sqlalchemy import text
from sqlalchemy.orm import Session

from conftest import NOW
from sparewell.database import faults
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.extend.host import Declarations
from sparewell.extend.work import Actor, Work
from sparewell.stock import lots
from support.api import Api

PATIENCE_SECONDS = 10.0
ON_POSTGRESQL = pytest.mark.parametrize(
    "database_url", [pytest.param("postgresql", marks=pytest.mark.postgres)], indirect=True
)
WAITERS = text(
    "SELECT count(*) FROM pg_stat_activity "
    "WHERE datname = current_database() AND wait_event_type = 'Lock'"
)


@pytest.fixture(autouse=True)
def unarmed() -> Iterator[None]:
    """Nothing stays armed."""
    yield
    faults.disarm()


def wait_for_a_waiter(database: Database) -> None:
    """Wait until somebody waits for a lock of ours."""
    end = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < end:
        with database.engine.connect() as connection:
            if connection.scalar(WAITERS):
                return
        time.sleep(0.01)
    raise AssertionError("nobody waits")


@ON_POSTGRESQL
@pytest.mark.parametrize("act", ["count", "use", "part"])
def test_a_lot_that_moves_meanwhile_is_found(
    database: Database, declared: Declarations, api: Api, act: str
) -> None:
    """Whoever waits for a lot that is being moved to another drawer gets it when it has moved."""
    api.post("/v1/drawers", {"code": "B1"})
    lot = api.stock(quantity=5)["id"]
    body = {"lot": lot, "quantity": 1}
    made = api.post(f"/v1/jobs/{api.job()}/reservations", body).body["reservations"][0]
    moved = threading.Event()

    def move(session: Session) -> None:
        work = Work(session, NOW, Actor("mover"), declared)
        lots.move(work, lots.find_lot(session, lot), "B1", None, "")
        moved.set()
        wait_for_a_waiter(database)

    mover = threading.Thread(target=write, args=(database, move))
    mover.start()
    assert moved.wait(PATIENCE_SECONDS)
    if act == "count":
        reply = api.post(f"/v1/lots/{lot}/count", {"counted": 7})
    elif act == "use":
        reply = api.post(f"/v1/reservations/{made['id']}/use")
    else:
        reply = api.patch("/v1/parts/SAC-15-STR", {"dimensions": {"length": "80 mm"}})
    mover.join(PATIENCE_SECONDS)
    assert reply.status == 200, reply.text
    after = api.get(f"/v1/lots/{lot}").body
    assert after["place"] == "B1"
    assert after["in_hand"] == {"count": 7, "use": 4, "part": 5}[act]
    assert after["dimensions"]["length"] == (80 if act == "part" else 75)


@ON_POSTGRESQL
def test_pieces_that_come_back_meanwhile_are_granted(
    database: Database, declared: Declarations, api: Api
) -> None:
    """A lot that is filled up after the first look is granted, not refused with what it has."""
    lot, job = api.stock(quantity=1)["id"], api.job()

    def fill_up() -> None:
        faults.disarm()
        write(
            database,
            lambda session: lots.count(
                Work(session, NOW, Actor("counter"), declared),
                lots.find_lot(session, lot),
                7,
                "",
            ),
        )

    faults.arm(faults.AFTER_BALANCE_CHANGED, fill_up)
    reply = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "quantity": 3})
    assert reply.status == 201, reply.text
