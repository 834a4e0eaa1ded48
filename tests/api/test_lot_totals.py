"""How much is free of some lots, counted by the server, against counting them one by one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from conftest import NOW
from sparewell.app.factory import create_app
from sparewell.database.engine import Database, open_database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from support.api import Api
from support.demo import Demo

LEFT_OUT = {"offcut", "unchecked"}
QUESTIONS = (
    "kind=sac",
    "kind=sac&available_min=1",
    "kind=sac&available_min=3&material=latex",
    "kind=sac&outside_diameter_min=5.5&outside_diameter_max=7.2",
    "kind=o_ring&fit_on=2026-11-25",
    "kind=cap",
    "kind=clip&whose=cap",
    "part=none",
    "place=none",
    "",
)


@pytest.fixture(scope="module")
def workshop(
    demo: Demo, declared: Declarations, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Api]:
    """A client of the demo workshop, where some rubber is over age and some pieces are promised."""
    file: Path = shutil.copy(demo.file, tmp_path_factory.mktemp("demo") / "demo.sqlite3")
    database = open_database(f"sqlite:///{file}")
    token = write(database, lambda session: new_token(session, "a", "read", NOW))
    yield Api(create_app(database, declared, clock=lambda: NOW), token)
    database.close()


def counted(api: Api, question: str) -> dict[str, int]:
    """Go through every page and count."""
    lots: list[dict[str, Any]] = []
    following = f"/v1/lots?limit=500&{question}"
    while following:
        page = api.get(following).body
        lots += page["lots"]
        following = page["next"]
    lots = [lot for lot in lots if lot["condition"] not in LEFT_OUT]
    return {
        "lots": len(lots),
        "available": sum(lot["available"] for lot in lots),
        "over_age": sum(lot["over_age"] for lot in lots),
    }


@pytest.mark.parametrize("question", QUESTIONS)
def test_the_server_counts_as_one_who_looks_at_each(workshop: Api, question: str) -> None:
    """However lots are narrowed, the total is what their pages add up to."""
    total = workshop.get(f"/v1/lots/total?{question}")
    assert (total.status, total.body) == (200, counted(workshop, question))


def test_the_demo_has_what_makes_a_difference(workshop: Api) -> None:
    """There are pieces over age, promised and unchecked, or the others would prove little."""
    lots = workshop.get("/v1/lots?limit=500").body["lots"]
    assert any(lot["over_age"] for lot in lots)
    assert any(lot["promised"] for lot in lots)
    assert {lot["condition"] for lot in lots} >= {None, "unchecked"}


@pytest.mark.differs
def test_it_is_counted_in_one_statement(api: Api, database: Database) -> None:
    """One statement counts, whatever there is; the others sign in and read the settings."""
    api.stock(quantity=4)
    api.stock(quantity=3, made_on="2001")
    seen: list[str] = []

    def note(*call: Any) -> None:
        seen.append(call[2])

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        total = api.get("/v1/lots/total?kind=sac")
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
    assert total.body == {"lots": 2, "available": 7, "over_age": 3}
    assert len([statement for statement in seen if "FROM lot" in statement]) == 1
    assert len(seen) <= 5


def test_a_page_is_nothing_that_can_be_counted(api: Api) -> None:
    """A limit is no way to narrow what is counted."""
    assert api.get("/v1/lots/total?limit=5").status == 422
