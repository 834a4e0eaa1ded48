"""Two writers who meet at one row of PostgreSQL, at the moment that random races hit now and then.

On SQLite writers never meet: they queue.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.orm import Session

from conftest import NOW, Clock
from sparewell.database import faults
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.extend.host import Declarations
from sparewell.handling import operations as handling
from sparewell.lots import operations as lots
from sparewell.work import Actor, Work
from support.api import Api, Reply

pytestmark = pytest.mark.differs

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
        handling.move(work, lots.find_lot(session, lot), "B1", None, "")
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
            lambda session: handling.count(
                Work(session, NOW, Actor("counter"), declared),
                lots.find_lot(session, lot),
                7,
                "",
            ),
        )

    faults.arm(faults.AFTER_BALANCE_CHANGED, fill_up)
    reply = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "quantity": 3})
    assert reply.status == 201, reply.text


def in_one_order(
    database: Database, table: str, first: int, second: int, ask: Callable[[], Reply]
) -> Reply:
    """Let a request wait for the first of two rows; the second has to be free meanwhile."""
    select = f"SELECT id FROM {table} WHERE id = :id FOR UPDATE"
    with ThreadPoolExecutor(1) as pool:
        with database.engine.begin() as other:
            other.execute(text(select), {"id": first})
            asked = pool.submit(ask)
            wait_for_a_waiter(database)
            other.execute(text(f"{select} NOWAIT"), {"id": second})
        return asked.result(PATIENCE_SECONDS)


def hold_for(api: Api, hours: int | None) -> None:
    """Let holds lapse after so many hours."""
    setting = "/v1/settings/stock.hold_lapses_after_hours"
    assert api.patch(setting, {"value": hours, "why": "the test"}).status == 200


@ON_POSTGRESQL
@pytest.mark.parametrize("names_a_lot", [True, False])
def test_lots_are_locked_in_one_order_where_a_hold_lapses_on_the_way(
    database: Database, api: Api, clock: Clock, *, names_a_lot: bool
) -> None:
    """A promise waits for the first lot before it takes another, whose hold has lapsed."""
    first, second, job = api.stock()["id"], api.stock()["id"], api.job()
    path = f"/v1/jobs/{job}/reservations"
    hold_for(api, 1)
    assert api.post(path, {"lot": second, "quantity": 1}).status == 201
    clock.now += timedelta(hours=2)
    body: dict[str, Any] = {"lot": first, "quantity": 1} if names_a_lot else {}
    reply = in_one_order(database, "lot", first, second, lambda: api.post(path, body))
    assert reply.body["reservations"][0]["lot"] == first
    assert api.get(f"/v1/lots/{second}").body["promised"] == 0


@ON_POSTGRESQL
def test_reservations_are_locked_in_one_order_where_some_are_named(
    database: Database, api: Api, clock: Clock
) -> None:
    """A count waits for the reservation it gives up before it takes another that has lapsed."""
    lot, path = api.stock()["id"], f"/v1/jobs/{api.job()}/reservations"
    ids = []
    for hours in (None, 1):
        hold_for(api, hours)
        made = api.post(path, {"lot": lot, "quantity": 1}).body["reservations"]
        ids.append(made[0]["id"])
    clock.now += timedelta(hours=2)
    body = {"counted": 3, "release": ids[:1]}
    reply = in_one_order(
        database, "reservation", *ids, lambda: api.post(f"/v1/lots/{lot}/count", body)
    )
    assert (reply.body["in_hand"], reply.body["promised"]) == (3, 0)


@ON_POSTGRESQL
def test_the_second_of_two_makers_is_told_what_is_there(database: Database, api: Api) -> None:
    """Who makes what another is just making hears that it is taken, as if he had come later."""
    with ThreadPoolExecutor(1) as pool:
        with database.engine.begin() as other:
            other.execute(
                text(
                    "INSERT INTO place (code, type, note, created_at) "
                    "VALUES ('Z9', 'drawer', '', now())"
                )
            )
            asked = pool.submit(lambda: api.post("/v1/drawers", {"code": "Z9"}))
            wait_for_a_waiter(database)
        reply = asked.result(PATIENCE_SECONDS)
    assert reply.status == 409
    assert reply.body["errors"] == [{"pointer": "/code", "detail": "taken; choose another code"}]
