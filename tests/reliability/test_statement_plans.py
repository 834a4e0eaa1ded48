"""What is asked of very many lots goes through an index, whether the planner has counted or not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import event, select

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.fitting.at_hand import promised_inside
from sparewell.ledger.sizes import used_by_size
from sparewell.lots.tables import Lot
from support.api import Api
from support.many_lots import fill

pytestmark = pytest.mark.differs

ROWS = 5000
# A walk along the primary key ends where the page is full; a scan is of the whole table.
WALKED_WHOLE = {
    "sqlite": re.compile(r"SCAN (?:lot|movement)(?:_\d+)?(?: USING INDEX ix_\w+)?$"),
    "postgresql": re.compile(r"Seq Scan on (?:lot|movement)\b"),
}
CAPS = [{"kind": "cap"}] * 4
PATHS = (
    "lots",
    "lots?kind=sac",
    "lots?kind=o_ring",
    "lots?place=A3",
    "lots?part=SAC-15-STR",
    "lots?donor=DON-0001",
    "lots?kind=clip&whose=cap",
    "lots/1",
    "lots/total?kind=sac&available_min=1&outside_diameter_min=5.9&outside_diameter_max=5.95",
    "movements",
    "movements?lot=1",
    "movements?reservation=1",
    "movements?job=JOB-0001",
    "movements?group=1",
    "donors",
    "donors/DON-0001",
    "drawers",
    "drawers/A3/count-sheet",
    "jobs",
    "jobs/JOB-0001",
    "reservations",
    "parts",
)


@contextmanager
def noted(database: Database) -> Iterator[list[tuple[str, Any]]]:
    """Note each question that is asked meanwhile, with what was handed along."""
    asked: list[tuple[str, Any]] = []

    def note(*call: Any) -> None:
        if call[2].startswith("SELECT"):
            asked.append((call[2], call[3]))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(database.engine, "before_cursor_execute", note)


def walks(database: Database, asked: list[tuple[str, Any]]) -> list[str]:
    """Return the plans that read a large table from its beginning to its end."""
    explain = "EXPLAIN QUERY PLAN " if database.is_sqlite else "EXPLAIN "
    found = []
    with database.engine.connect() as connection:
        for statement, values in asked:
            rows = connection.exec_driver_sql(explain + statement, values).all()
            plan = [str(row[-1]).strip() for row in rows]
            pattern = WALKED_WHOLE[database.url.get_backend_name()]
            found += [f"{line}: {statement}" for line in plan if pattern.search(line)]
    return found


def forget_counts(database: Database) -> None:
    """Let the planner know no more of the columns than before anybody's ANALYZE."""
    counts = "sqlite_stat1" if database.is_sqlite else "pg_statistic"
    with database.writer.begin() as connection:
        connection.exec_driver_sql(f"DELETE FROM {counts}")
    database.engine.dispose()


@pytest.mark.parametrize("planner", ["counted", "uncounted"])
def test_no_list_reads_all_lots(api: Api, database: Database, planner: str) -> None:
    """Lists and single things are found through an index, with and without ANALYZE."""
    api.stock(quantity=4)
    components = [{"kind": "cap"}, {"kind": "clip", "part_of": 0}]
    api.post("/v1/donors", {"called": "a donor", "components": components})
    api.post(f"/v1/jobs/{api.job()}/reservations")
    fill(database, ROWS)
    if planner == "uncounted":
        forget_counts(database)
    for path in PATHS:
        with noted(database) as asked:
            assert api.get(f"/v1/{path}").status == 200, path
        assert walks(database, asked) == [], path


@pytest.mark.parametrize("planner", ["counted", "uncounted"])
def test_what_is_fixed_in_a_piece_is_found_without_reading_all(
    api: Api, database: Database, planner: str
) -> None:
    """Among lots of which none is fixed in another, looking for what is inside reads no table."""
    made = api.post("/v1/donors", {"called": "a donor", "components": CAPS})
    assert made.status == 201
    fill(database, ROWS)
    if planner == "uncounted":
        forget_counts(database)
    with read(database) as session:
        pieces = session.scalars(select(Lot).where(Lot.donor_id.is_not(None))).unique().all()
        with noted(database) as asked:
            assert list(promised_inside(session, pieces)) == []
    assert len(asked) == 1
    assert walks(database, asked) == []


@pytest.mark.parametrize("planner", ["counted", "uncounted"])
def test_what_was_used_up_is_found_among_what_was_promised(
    api: Api, database: Database, planner: str
) -> None:
    """The sizes that were used are added up from the lines of reservations, not from all lines."""
    lot = api.stock(quantity=4, measured={"outside_diameter": "5.9 mm"})
    made = api.post(f"/v1/jobs/{api.job()}/reservations", {"lot": lot["id"], "quantity": 3})
    used = made.body["reservations"][0]["id"]
    assert api.post(f"/v1/reservations/{used}/use", {"quantity": 2}).status == 200
    fill(database, ROWS)
    if planner == "uncounted":
        forget_counts(database)
    with read(database) as session, noted(database) as asked:
        found = used_by_size(session, "sac", "outside_diameter", NOW - timedelta(days=1))
    assert found == {5_900_000: 2}
    assert len(asked) == 1
    assert walks(database, asked) == []
