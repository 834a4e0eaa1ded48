"""Many lots at once, for search plans and benchmarks: sizes spread evenly from 3 to 13 mm."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from sparewell.catalogue.tables import Part
from sparewell.database.engine import Database
from sparewell.ledger.tables import Act, Movement
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place

BATCH = 5000
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
PIECES = 3


def fill(database: Database, rows: int) -> None:
    """Add `rows` lots of sacs of three pieces, one lot in five empty, with their ledger."""
    with Session(database.writer) as session, session.begin():
        part = Part(
            number="FILL", kind="sac", name="x", counted_by="piece", note="", created_at=NOW
        )
        place = Place(code="FILL", type="drawer", note="", created_at=NOW)
        act = Act(at=NOW, actor="fill", note="")
        session.add_all([part, place, act])
        session.flush()
        for start in range(0, rows, BATCH):
            lots = [
                _lot(number, part.id, place.id) for number in range(start, min(start + BATCH, rows))
            ]
            session.execute(insert(Lot), lots)
        movements = [
            {
                "act_id": act.id,
                "lot_id": lot_id,
                "verb": "arrived",
                "change": in_hand,
                "cost_change_minor": 0,
                "pieces": in_hand,
                "place_id": place.id,
            }
            for lot_id, in_hand in session.execute(
                select(Lot.id, Lot.in_hand).where(Lot.part_id == part.id)
            )
        ]
        session.execute(insert(Movement), movements)
    with database.writer.begin() as connection:
        connection.exec_driver_sql("ANALYZE")


def _lot(number: int, part_id: int, place_id: int) -> dict[str, object]:
    in_hand = 0 if number % 5 == 0 else PIECES
    return {
        "kind": "sac",
        "part_id": part_id,
        "place_id": place_id,
        "measured": {"outside_diameter": "as filled"},
        "attributes": {},
        "material": "latex",
        "material_confidence": "label",
        "arrived_at": NOW,
        "note": "",
        "in_hand": in_hand,
        "promised": 0,
        "has_available": in_hand > 0,
        "outside_diameter_nanometres": 3_000_000 + number * 7919 % 10_000_000,
    }
