"""Forms that nobody could have filled in, and addresses that nobody was given."""

from __future__ import annotations

import pytest

from support.api import Api
from support.bench import Bench

NONSENSE = ("9" * 5000, "\u0663", "-1", "\x00", "\N{SNOWMAN}/../..", "<blink>", "1e9", "a" * 3000)
FORMS = (
    ("/drawers", ("code", "note")),
    ("/drawers/A3/count", ("bag-1", "expected-1", "reason", "release")),
    ("/bags/1/move", ("move-drawer", "move-quantity", "release")),
    ("/bags/1/count", ("count-counted", "release")),
    ("/bags/1/discard", ("discard-quantity", "discard-note")),
    ("/bags/1/cut", ("cut-length", "cut-quantity", "cut-keep_offcut")),
    ("/bags/1/put-back", ("put-back-reservation", "put-back-quantity", "put-back-length")),
    ("/bags/1/undo", ("group",)),
    ("/bags/1/says", ("tag", "measured/outside_diameter", "measured/nose", "cost", "made_on")),
    ("/receive", ("part", "kind", "drawer", "quantity", "measured/outside_diameter", "cost")),
    ("/donors/new", ("called", "materials", "has-cap", "inside-cap")),
    ("/donors/DON-0001/looked", ("component", "state", "seen")),
    ("/donors/DON-0001/strip", ("lots", "drawer")),
    ("/donors/DON-0001/add", ("kind", "state", "part_of")),
    ("/labels", ("drawer", "bags", "start", "page_width", "columns", "gap_down")),
    ("/measure/sac", ("lot", "job", "filling_system", "called", "barrel_bore", "try_in")),
    ("/measure/gasket", ("lot", "sheet_length", "mode")),
    ("/pens/new", ("filling_system", "called", "materials", "reading:barrel_bore", "cost")),
    ("/jobs/JOB-0001/reserve", ("lot", "need", "quantity")),
    ("/jobs/JOB-0001/reservations/1", ("verb", "quantity", "note")),
    ("/jobs/JOB-0001/put-back/1", ("reservation", "condition")),
    ("/jobs/JOB-0001/readings", ("reading:barrel_bore", "reading:nose")),
    ("/jobs/JOB-0001/needs/1", ("what", "why")),
    ("/jobs/JOB-0001/steps/1", ("undone",)),
    ("/jobs/JOB-0001/timers", ("what", "minutes")),
    ("/jobs/JOB-0001/agree", ("ceiling", "time_minutes", "approval", "promised_on")),
    ("/jobs/JOB-0001/sold", ("sold_on", "price", "sold_to", "warranty_until")),
    ("/jobs/JOB-0001/close", ("outcome:1", "outcome:x", "test:air", "time_minutes")),
    ("/timers/1", ("to",)),
    ("/settings/sac.end_gap", ("value", "why", "tag")),
    ("/to-order/SAC-15-STR", ("policy", "figure", "why", "tag")),
    ("/sign-in", ("token", "person", "to", "kept:x")),
    ("/look", ("look", "to")),
)


@pytest.fixture(autouse=True)
def _workshop(api: Api) -> None:
    """A bag, a job and a donor."""
    api.stock()
    api.job()
    assert api.post("/v1/donors", {"called": "red", "components": [{"kind": "cap"}]}).status == 201


@pytest.mark.parametrize(("path", "names"), FORMS, ids=[path for path, _ in FORMS])
def test_no_form_breaks_a_page(bench: Bench, path: str, names: tuple[str, ...]) -> None:
    """Whatever is sent is refused or done, and is never told as a fault of ours."""
    for nonsense in NONSENSE:
        page = bench.post(path, dict.fromkeys(names, nonsense))
        assert page.status < 500, (path, nonsense[:20], page.text)
        assert "<blink>" not in page.html


@pytest.mark.parametrize(
    "path",
    [
        "/measure/{}",
        "/measure/sac?nipple_diameter={}&barrel_bore={}",
        "/measure/fill?system=sac&fills_averaged={}",
        "/jobs/{}",
        "/jobs/ended?after={}",
        "/pens?after={}",
        "/pens/{}",
        "/pens/new?filling_system={}",
        "/pens/{}/photographs",
        "/photographs/{}",
        "/settings/{}",
        "/to-order/{}",
        "/sign-in?to={}",
        "/bags/{}",
        "/drawers/{}",
        "/donors/{}",
        "/drawers?after={}",
        "/donors?after={}",
        "/find?kind=sac&size={}",
        "/find?kind=sac&size=6&tolerance={}&months={}",
        "/find?kind={}&dimension={}",
        "/receive?part={}&kind={}",
        "/receive?bag={}&drawer={}",
        "/labels?bag={}&start={}",
        "/labels/sheet?bag={}&start={}",
        "/labels/page.css?page_width={}",
    ],
)
def test_no_address_breaks_a_page(bench: Bench, path: str) -> None:
    """Whatever stands in an address, a page comes back that says what is wrong."""
    for nonsense in ("9" * 5000, "%D9%A3", "-1", "%00", "%E2%98%83", "%3Cblink%3E", "1e9"):
        page = bench.get(path.replace("{}", nonsense))
        assert page.status < 500, (path, nonsense[:20], page.text)
        assert "<blink>" not in page.html
