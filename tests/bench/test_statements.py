"""How many statements each page takes: as many with thirty rows of everything as with three."""

from __future__ import annotations

import sys

import pytest
from flask import Flask

from sparewell.bench.label_sheet import COUNTS, LENGTHS
from sparewell.database.engine import Database
from support.api import Api
from support.bench import Bench
from support.rows_of_everything import fill_in
from support.statements import counted

SHEET = "&".join(f"{name}={usual}" for name, _, usual in (*LENGTHS, *COUNTS))
MOST = 12
# What is worked out anew from everything that a job, or a pen, has; and from what all jobs lack.
MORE = {"/jobs/JOB-0001": 23, "/pens/PEN-0001": 13, "/to-order": 16}
PAGES = (
    "/",
    "/measure",
    "/measure/sac?nipple_diameter=6.4&barrel_bore=8",
    "/jobs",
    "/jobs/ended",
    "/jobs/JOB-0001",
    "/pens",
    "/pens/new?filling_system=lever",
    "/pens/PEN-0001",
    "/pens/PEN-0001/photographs",
    "/drawers",
    "/drawers/A3",
    "/drawers/A3/count",
    "/bags/1",
    "/find?kind=sac&size=5.9",
    "/receive",
    "/receive?part=SAC-15-STR",
    "/donors",
    "/donors/new",
    "/donors/DON-0001",
    "/labels",
    f"/labels/sheet?bags_of=A3&donor=DON-0001&drawer=A3&bag=1&{SHEET}",
    "/labels/page.css",
    "/settings",
    "/settings/sac.end_gap",
    "/to-order",
    "/to-order/SAC-15-STR",
    "/learned",
    "/settings/sac.stretch_good",
    "/more",
)
# The first two are shown without a session; a picture is one row, whatever else there is.
_NOT_COUNTED = {"/sign-in", "/bench/<name>", "/photographs/<row:photograph>"}


@pytest.fixture
def workshop(api: Api) -> Api:
    """A workshop with three of everything, and a bag of very many pieces."""
    api.stock(quantity=100)
    fill_in(api, 0, 3)
    return api


def statements(bench: Bench, database: Database, path: str) -> int:
    """How many statements a page takes."""
    with counted(database) as sent:
        assert bench.get(path).status == 200, path
    return len(sent)


def test_no_page_asks_more_when_there_is_more(
    bench: Bench, database: Database, workshop: Api
) -> None:
    """Thirty rows cost no statement that three do not, and few pages need more than twelve."""
    few = {path: statements(bench, database, path) for path in PAGES}
    fill_in(workshop, 3, 30)
    many = {path: statements(bench, database, path) for path in PAGES}
    table = [f"{few[path]:4} {many[path]:4}  {path.split('?')[0]}" for path in PAGES]
    sys.stdout.write("\n".join(["", *table, ""]))
    assert few == many
    assert {path: asked for path, asked in few.items() if asked > MORE.get(path, MOST)} == {}


def test_every_page_is_counted(app: Flask) -> None:
    """A page that is not among those counted is a failure."""
    found = set()
    for path in PAGES:
        endpoint, _ = app.url_map.bind("localhost").match(path.split("?")[0], "GET")
        found |= {rule.rule for rule in app.url_map.iter_rules(endpoint)}
    there = {
        rule.rule
        for rule in app.url_map.iter_rules()
        if rule.endpoint.startswith("bench.") and "GET" in (rule.methods or ())
    }
    assert there - found == _NOT_COUNTED
