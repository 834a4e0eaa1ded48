"""How many statements each list takes: as many with thirty rows of everything as with three."""

from __future__ import annotations

import sys
from typing import Any

import pytest

from sparewell.database.engine import Database
from support.api import Api
from support.rows_of_everything import bring_in, fill_in
from support.statements import counted

MOST = 6
LISTS = (
    "/v1/calculators",
    "/v1/donors",
    "/v1/donors/DON-0001/photographs",
    "/v1/drawers",
    "/v1/drawers/A3/count-sheet",
    "/v1/filling-systems",
    "/v1/imports",
    "/v1/imports/1/problems",
    "/v1/jobs",
    "/v1/kinds",
    "/v1/lots",
    "/v1/lots/1/outcomes",
    "/v1/movements",
    "/v1/offers",
    "/v1/orders",
    "/v1/orders/ORD-0001/parcels",
    "/v1/outcomes/came-back",
    "/v1/parts",
    "/v1/pens",
    "/v1/pens/PEN-0001/alike",
    "/v1/pens/PEN-0001/contents",
    "/v1/pens/PEN-0001/history",
    "/v1/pens/PEN-0001/photographs",
    "/v1/plugins",
    "/v1/purchases",
    "/v1/reservations",
    "/v1/settings",
    "/v1/size-tables",
    "/v1/size-tables/as568",
    "/v1/suppliers",
    "/v1/suppliers/1/offers",
    "/v1/timers",
)
# A history is put together of whatever has lines of its own.
MORE = {"/v1/pens/PEN-0001/history": 8}
# Pages of what is worked out for everything together: what jobs want is sized for each need.
WORKED_OUT = {"/v1/reorder"}


@pytest.fixture
def workshop(api: Api) -> Api:
    """A workshop with three of everything, and a bag of very many pieces."""
    api.stock(quantity=100)
    fill_in(api, 0, 3)
    bring_in(api, 0, 3)
    return api


def statements(api: Api, database: Database) -> dict[str, int]:
    """How many statements each list takes, beside the one that looks up its caller's token."""
    found = {}
    for path in LISTS:
        with counted(database) as sent:
            answer = api.get(f"{path}?limit=200")
        assert answer.status == 200, answer.text
        found[path] = len(sent) - 1
    return found


def test_no_list_asks_more_when_it_is_longer(database: Database, workshop: Api) -> None:
    """Thirty rows cost no statement that three do not, and no list needs more than six."""
    few = statements(workshop, database)
    fill_in(workshop, 3, 30)
    bring_in(workshop, 3, 30)
    many = statements(workshop, database)
    table = [f"{few[path]:4} {many[path]:4}  {path}" for path in LISTS]
    sys.stdout.write("\n".join(["", *table, ""]))
    assert few == many
    assert {path: asked for path, asked in few.items() if asked > MORE.get(path, MOST)} == {}


def test_every_list_is_counted(api: Api) -> None:
    """A list that is not among those counted is a failure."""
    document: dict[str, Any] = api.get("/openapi.json").body
    lists = {
        path
        for path, verbs in document["paths"].items()
        if any(each.get("name") == "limit" for each in verbs.get("get", {}).get("parameters", ()))
    }
    parts = [path.split("/") for path in LISTS]
    assert {path for path in lists if not _matches(path.split("/"), parts)} == WORKED_OUT


def _matches(template: list[str], paths: list[list[str]]) -> bool:
    return any(
        len(path) == len(template)
        and all(
            step == given or step.startswith("{")
            for step, given in zip(template, path, strict=True)
        )
        for path in paths
    )
