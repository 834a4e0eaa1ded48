"""The audit, which the database reckons, against the same reckoning in plain Python."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import Connection, inspect, select, text
from sqlalchemy.orm import Session

from sparewell.audit.pieces import audit
from sparewell.database.engine import Database
from sparewell.ledger.tables import Movement
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation
from support.api import Api

ROUNDS = 40
BAGS = 8


@contextmanager
def unguarded(database: Database) -> Iterator[Connection]:
    """Give a transaction in which no CHECK looks; whatever is done in it is undone."""
    with database.writer.connect() as connection:
        attempt = connection.begin()
        if database.is_sqlite:
            connection.exec_driver_sql("PRAGMA ignore_check_constraints=ON")
        else:
            for table in ("lot", "reservation"):
                for check in inspect(connection).get_check_constraints(table):
                    drop = f"ALTER TABLE {table} DROP CONSTRAINT {check['name']}"
                    connection.exec_driver_sql(drop)
        try:
            yield connection
        finally:
            attempt.rollback()
            if database.is_sqlite:
                connection.exec_driver_sql("PRAGMA ignore_check_constraints=OFF")


def meddle(connection: Connection, chance: random.Random) -> None:
    """Write a few things that nothing in the service would write."""
    for _ in range(chance.randrange(4)):
        column, value = chance.choice(
            [
                ("in_hand", chance.randrange(12)),
                ("promised", chance.randrange(12)),
                ("cost_minor", chance.choice([None, 0, 700])),
                ("has_available", chance.choice([True, False])),
                ("place_id", chance.choice([1, 2])),
            ]
        )
        statement = text(f"UPDATE lot SET {column} = :value WHERE id = :id")
        connection.execute(statement, {"value": value, "id": chance.randint(1, BAGS)})
    for _ in range(chance.randrange(3)):
        connection.execute(
            text("UPDATE reservation SET promised = :value WHERE id = :id"),
            {"value": chance.randrange(4), "id": chance.randint(1, 2)},
        )
    for _ in range(chance.randrange(3)):
        connection.execute(
            Movement.__table__.insert().from_select(
                ["act_id", "lot_id", "verb", "change", "cost_change_minor", "pieces", "place_id"],
                select(
                    Movement.act_id,
                    Movement.lot_id,
                    text("'counted'"),
                    Movement.change - chance.choice([0, 5]),
                    Movement.cost_change_minor + chance.choice([0, 50]),
                    Movement.pieces,
                    Movement.place_id,
                ).where(Movement.lot_id == chance.randint(1, BAGS)),
            )
        )


def disagreements(connection: Connection) -> Iterator[str]:
    """Go through every lot, and say what a person with a pencil would say."""
    lots = connection.execute(select(Lot.__table__).order_by(Lot.id)).mappings().all()
    counted: dict[int, int] = defaultdict(int)
    cost: dict[int, int] = defaultdict(int)
    held: dict[int, int] = defaultdict(int)
    for line in connection.execute(select(Movement.__table__)).mappings():
        counted[line["lot_id"]] += line["change"]
        cost[line["lot_id"]] += line["cost_change_minor"]
    for row in connection.execute(select(Reservation.__table__)).mappings():
        held[row["lot_id"]] += row["promised"]
    for lot in lots:
        number, in_hand = lot["id"], lot["in_hand"]
        if in_hand != counted[number]:
            yield f"lot {number}: {in_hand} in hand, and the ledger adds up to {counted[number]}"
        if (lot["cost_minor"] or 0) != cost[number]:
            said = lot["cost_minor"] or 0
            yield f"lot {number}: cost {said}, and the ledger adds up to {cost[number]}"
    for lot in lots:
        number, promised = lot["id"], lot["promised"]
        if promised != held[number]:
            yield f"lot {number}: {promised} promised, and its reservations hold {held[number]}"
        if promised > lot["in_hand"]:
            yield f"lot {number}: {promised} promised of {lot['in_hand']} in hand"
        if lot["has_available"] != (lot["in_hand"] > promised):
            yield f"lot {number}: the flag has_available is wrong"
    yield from misplaced(connection)


def misplaced(connection: Connection) -> Iterator[str]:
    """Say which lots do not lie where their last line puts them; nothing was fitted."""
    last: dict[int, tuple[int, int]] = {}
    for line in connection.execute(select(Movement.__table__).order_by(Movement.id)).mappings():
        last[line["lot_id"]] = (line["id"], line["place_id"])
    places = dict(connection.execute(select(Lot.id, Lot.place_id)).all())
    for number, (_, place) in sorted(last.items(), key=lambda each: each[1]):
        if places[number] != place:
            yield f"lot {number}: it does not lie where the ledger last put it"


def of_lots(faults: tuple[str, ...]) -> list[str]:
    """Return what is said of lots, without what follows from it elsewhere."""
    return [each for each in faults if each.startswith("lot ")]


@pytest.mark.differs
def test_the_audit_finds_what_python_finds(api: Api, database: Database) -> None:
    """Whatever was meddled with, the same sentences come, in the same order."""
    assert api.post("/v1/drawers", {"code": "A3"}).status == 201
    assert api.post("/v1/drawers", {"code": "B1"}).status == 201
    for number in range(BAGS):
        api.stock(quantity=number + 1, cost="8.50" if number % 2 else None)
    job = api.job()
    for lot in (3, 5):
        asked = {"lot": lot, "quantity": 2}
        taken: Any = api.post(f"/v1/jobs/{job}/reservations", asked)
        assert taken.status == 201, taken.text
    chance = random.Random(14)  # noqa: S311 - the same faults each time
    found = 0
    for _ in range(ROUNDS):
        with unguarded(database) as connection:
            meddle(connection, chance)
            with Session(connection, join_transaction_mode="create_savepoint") as session:
                faults = of_lots(audit(session).faults)
            assert faults == list(disagreements(connection))
            found += len(faults)
    assert found > ROUNDS
