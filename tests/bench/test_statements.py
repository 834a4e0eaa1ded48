"""How many statements each page takes: as many with thirty rows of everything as with three."""

from __future__ import annotations

import sys

import pytest
from flask import Flask

from sparewell.bench.label_sheet import COUNTS, LENGTHS
from sparewell.database.engine import Database
from support.api import BODY, Api
from support.bench import Bench
from support.statements import counted

SHEET = "&".join(f"{name}={usual}" for name, _, usual in (*LENGTHS, *COUNTS))
MOST = 12
# What is worked out anew from everything that a job, or a pen, has; and from what every job lacks.
MORE = {"/jobs/JOB-0001": 35, "/pens/PEN-0001": 23, "/to-order": 29}
FOR_EACH_JOB = {"/to-order": 3}
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
    "/more",
)
# The first two are shown without a session; a picture is one row, whatever else there is.
_NOT_COUNTED = {"/sign-in", "/bench/<name>", "/photographs/<row:photograph>"}


def fill(api: Api, first: int, last: int) -> None:
    """Add rows of everything that is listed: of each of the workshop's things, and to the first."""
    for number in range(first, last):
        api.post("/v1/drawers", {"code": f"D{number}"})
        api.stock(quantity=2)
        components = [{"kind": "cap"}, {"kind": "clip", "part_of": 0}]
        api.post("/v1/donors", {"called": f"donor {number}", "components": components})
        job = api.job()
        api.post(f"/v1/jobs/{job}/timers", {"what": "shellac", "minutes": 30})
        ended = api.job()
        api.post(f"/v1/jobs/{ended}/cancel")
        part = {"number": f"SAC-{number}", "kind": "sac", "dimensions": {"outside_diameter": 6}}
        api.post("/v1/parts", part)
        change = {"policy": "keep_at_least", "parameters": {"pieces": 5}, "why": "often wanted"}
        api.patch(f"/v1/parts/SAC-{number}/threshold", change)
        # And of what the first of each has.
        taken = {"lot": 1, "quantity": 1, "override": "tried"}
        made = api.post("/v1/jobs/JOB-0001/reservations", taken)
        assert made.status == 201, made.text
        reservation = made.body["reservations"][0]["id"]
        api.post(f"/v1/reservations/{reservation}/{'use' if number % 2 else 'fetch'}")
        api.post("/v1/pens/PEN-0001/readings", {"readings": BODY})
        api.post("/v1/jobs", {"pen": "PEN-0001"})
        more = {"components": [{"kind": "feed"}, {"kind": "nib"}]}
        assert api.post("/v1/donors/DON-0001/components", more).status == 201


@pytest.fixture
def workshop(api: Api) -> Api:
    """A workshop with three of everything, and a bag of very many pieces."""
    api.stock(quantity=100)
    fill(api, 0, 3)
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
    fill(workshop, 3, 30)
    many = {path: statements(bench, database, path) for path in PAGES}
    table = [f"{few[path]:4} {many[path]:4}  {path.split('?')[0]}" for path in PAGES]
    sys.stdout.write("\n".join(["", *table, ""]))
    jobs = len(workshop.get("/v1/jobs?state=open&limit=500").body["jobs"])
    for path, each in FOR_EACH_JOB.items():
        assert many.pop(path) <= few[path] + each * jobs
    assert {path: few[path] for path in many} == many
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
