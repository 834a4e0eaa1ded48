"""Many lots at once, for search plans and benchmarks.

Two workshops: one where every bag was measured, with sizes spread evenly from 3 to 13 mm, and one
where all are of thirty nominal sizes and every other one is over age, so that thousands share a
size.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice

from sqlalchemy import insert, literal, select, text
from sqlalchemy.orm import Session

from sparewell.catalogue.tables import Part
from sparewell.database.engine import Database
from sparewell.ledger.tables import Act, Movement
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place

BATCH = 5000
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
PIECES = 3
NOMINAL_SIZES = 30
_64TH_NANOMETRES = 396_875
_KEEPS = timedelta(days=5 * 365)


def measured(number: int) -> dict[str, object]:
    """Return what is said of one lot of many: its size, measured on it."""
    return {
        "measured": {"outside_diameter": "as filled"},
        "made_from": None,
        "outside_diameter_nanometres": 3_000_000 + number * 7919 % 10_000_000,
    }


def nominal(number: int) -> dict[str, object]:
    """Return what is said of one lot of many: one of few sizes, and every other one over age."""
    age = _KEEPS * (number % 97) / 97 + (_KEEPS if number % 2 else timedelta())
    return {
        "measured": {},
        "made_from": (NOW - age).date(),
        "outside_diameter_nanometres": (16 + number % NOMINAL_SIZES) * _64TH_NANOMETRES // 2,
    }


def fill(
    database: Database,
    rows: int,
    said: Callable[[int], dict[str, object]] = measured,
    start: int = 0,
    code: str = "FILL",
) -> None:
    """Add lots of sacs of three pieces until there are `rows`, one lot in five of them empty."""
    add(
        database,
        (said(number) | _in_hand(number) for number in range(start, rows)),
        f"{code}-{start}",
    )


def _in_hand(number: int) -> dict[str, object]:
    return {"in_hand": 0 if number % 5 == 0 else PIECES}


def add(database: Database, lots: Iterable[dict[str, object]], code: str = "FILL") -> None:
    """Add lots of sacs of one part, of which only what differs is said, with their ledger."""
    with Session(database.writer) as session, session.begin():
        if not database.is_sqlite:
            session.execute(text("SET LOCAL statement_timeout = 0"))
        part = Part(number=code, kind="sac", name="x", counted_by="piece", note="", created_at=NOW)
        place = Place(code=code, type="drawer", note="", created_at=NOW)
        act = Act(at=NOW, actor="fill", note="")
        session.add_all([part, place, act])
        session.flush()
        for batch in _batches(lots):
            session.execute(insert(Lot), [_lot(part.id, place.id, said) for said in batch])
        arrived = select(
            *(literal(act.id), Lot.id, literal("arrived"), Lot.in_hand, literal(0)),
            *(Lot.in_hand, Lot.place_id),
        ).where(Lot.part_id == part.id)
        columns = ("act_id", "lot_id", "verb", "change", "cost_change_minor", "pieces", "place_id")
        session.execute(insert(Movement).from_select(columns, arrived))
    _let_the_planner_count(database)


def _let_the_planner_count(database: Database) -> None:
    if database.is_sqlite:
        with database.writer.begin() as connection:
            connection.exec_driver_sql("ANALYZE")
        return
    with database.engine.connect() as connection:
        own = connection.execution_options(isolation_level="AUTOCOMMIT")
        own.exec_driver_sql("SET statement_timeout = 0")
        own.exec_driver_sql("VACUUM ANALYZE")


def _batches(lots: Iterable[dict[str, object]]) -> Iterator[list[dict[str, object]]]:
    left = iter(lots)
    while batch := list(islice(left, BATCH)):
        yield batch


def _lot(part_id: int, place_id: int, said: dict[str, object]) -> dict[str, object]:
    facts = {
        "kind": "sac",
        "part_id": part_id,
        "place_id": place_id,
        "condition": None,
        "measured": {},
        "attributes": {},
        "material": "latex",
        "material_confidence": "label",
        "made_from": None,
        "arrived_at": NOW,
        "note": "",
        "in_hand": PIECES,
        "promised": 0,
        "outside_diameter_nanometres": None,
    } | said
    return facts | {"has_available": facts["in_hand"] != 0}
