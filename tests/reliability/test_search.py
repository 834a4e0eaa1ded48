"""The one search: it uses its index, and lists ask the database a fixed number of times."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import event

from sparewell.database.engine import Database
from sparewell.lots.search import MOST_JUDGED
from support.api import BODY, Api
from support.many_lots import fill

pytestmark = pytest.mark.differs

ROWS = 5000
FREE = {"sqlite": "has_available = 1", "postgresql": "has_available"}


def test_range_search_runs_on_its_covering_index(database: Database) -> None:
    """Both databases answer a range of the leading dimension through its partial index."""
    fill(database, ROWS)
    query = (
        "SELECT id FROM lot WHERE kind = 'sac' AND "
        f"{FREE[database.url.get_backend_name()]} "
        "AND outside_diameter_nanometres BETWEEN 5900000 AND 5950000"
    )
    explain = "EXPLAIN QUERY PLAN " if database.is_sqlite else "EXPLAIN "
    with database.engine.connect() as connection:
        rows = connection.exec_driver_sql(explain + query).fetchall()
    plan = " ".join(str(cell) for row in rows for cell in row)
    assert "ix_lot_fit_outside_diameter" in plan


def test_fit_looks_at_no_more_than_it_must(api: Api, database: Database) -> None:
    """Among thousands of lots a fit judges at most 200, and lists at most 20 misses."""
    fill(database, ROWS)
    fit = api.post("/v1/fits/sac", BODY | {"limit": 200}).body
    assert 0 < len(fit["candidates"]) <= MOST_JUDGED
    assert len(fit["refused"]) == 20
    assert all(each["available"] > 0 for each in fit["candidates"])


@pytest.mark.parametrize(
    ("path", "most"),
    [("lots", 6), ("movements", 5), ("parts", 3), ("jobs", 11), ("pens", 6), ("reservations", 5)],
)
def test_lists_ask_a_fixed_number_of_times(
    api: Api, database: Database, path: str, most: int
) -> None:
    """A list of many rows needs no more statements than a list of one."""
    asked: list[str] = []
    event.listen(database.engine, "before_cursor_execute", lambda *call: asked.append(call[2]))

    def count() -> int:
        asked.clear()
        assert api.get(f"/v1/{path}").status == 200
        return len([text for text in asked if re.match(r"\s*SELECT", text)])

    api.stock()
    api.post(f"/v1/jobs/{api.job()}/reservations")
    one = count()
    for _ in range(6):
        api.stock()
        api.post(f"/v1/jobs/{api.job()}/reservations")
    assert count() == one
    assert one <= most
