"""Bad input of every kind: each is refused with what was wrong and where, and nothing is done."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import BODY, Api

LONG = "x" * 3000

BAD_LENGTHS: list[Any] = [
    "",
    "   ",
    "abc",
    "7.1.2",
    "M3",
    "3/0 in",
    "9/32",
    "5 ft",
    "1e3 mm",
    "-1 mm",
    "0",
    0,
    -1,
    "0 mm",
    1001,
    "1.2 m",
    "9**9**9 mm",
    "1,234.5 mm",
    "٣ mm",
    "7 mil",
    "nan",
    "inf",
    True,
    None,
    [],
    {},
    "x" * 41,
    "7.1 mm\u0000",
    10**40,
    "0x10",
    "1_0",
    "1 2 mm",
]

Row = tuple[str, str, Any, int, str]
TABLE: list[Row] = [
    ("POST", "/v1/drawers", {}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": ""}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": " "}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": 7}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": None}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": ["A"]}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": "A/3"}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": "A" * 41}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": "A\n"[:1] + "\u0000"}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": ".."}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": "50%"}, 422, "/code"),
    ("POST", "/v1/drawers", {"code": "A9", "colour": "red"}, 422, "/colour"),
    ("POST", "/v1/drawers", {"code": "A9", "note": LONG}, 422, "/note"),
    ("POST", "/v1/drawers", {"code": "A9", "note": "a\u0000b"}, 422, "/note"),
    ("POST", "/v1/drawers", {"code": "A3"}, 409, "/code"),
    ("POST", "/v1/drawers", [], 422, ""),
    ("POST", "/v1/drawers", "A9", 422, ""),
    ("POST", "/v1/drawers", 7, 422, ""),
    ("POST", "/v1/parts", {"kind": "sac"}, 422, "/number"),
    ("POST", "/v1/parts", {"number": "P1"}, 422, "/kind"),
    ("POST", "/v1/parts", {"number": "P1", "kind": "sock"}, 422, "/kind"),
    ("POST", "/v1/parts", {"number": "SAC-15-STR", "kind": "sac"}, 409, "/number"),
    ("POST", "/v1/parts", {"number": "P1", "kind": "sac", "name": ""}, 422, "/name"),
    ("POST", "/v1/parts", {"number": "P1", "kind": "sac", "name": "x" * 201}, 422, "/name"),
    ("POST", "/v1/parts", {"number": "P1", "kind": "sac", "counted_by": "ton"}, 422, "/counted_by"),
    ("POST", "/v1/parts", {"number": "P1", "kind": "sac", "dimensions": []}, 422, "/dimensions"),
    (
        "POST",
        "/v1/parts",
        {"number": "P1", "kind": "sac", "dimensions": {"girth": 1}},
        422,
        "/dimensions/girth",
    ),
    (
        "POST",
        "/v1/parts",
        {"number": "P1", "kind": "sac", "dimensions": {"wire_diameter": 1}},
        422,
        "/dimensions/wire_diameter",
    ),
    (
        "POST",
        "/v1/parts",
        {
            "number": "P1",
            "kind": "sac",
            "dimensions": {"outside_diameter": 5, "inside_diameter": 5},
        },
        422,
        "/dimensions/inside_diameter",
    ),
    (
        "POST",
        "/v1/parts",
        {
            "number": "P1",
            "kind": "o_ring",
            "dimensions": {"outside_diameter": 5, "inside_diameter": 3, "cross_section": 2.5},
        },
        422,
        "/dimensions/cross_section",
    ),
    ("POST", "/v1/lots", {"drawer": "A3", "quantity": 1}, 422, "/part"),
    ("POST", "/v1/lots", {"part": "SAC-15-STR", "quantity": 1}, 422, "/drawer"),
    ("POST", "/v1/lots", {"part": "SAC-15-STR", "drawer": "A3"}, 422, "/quantity"),
    ("POST", "/v1/lots", {"part": "NONE", "drawer": "A3", "quantity": 1}, 422, "/part"),
    ("POST", "/v1/lots", {"part": "SAC-15-STR", "drawer": "Z9", "quantity": 1}, 422, "/drawer"),
    ("POST", "/v1/lots/1/count", {}, 422, "/counted"),
    ("POST", "/v1/lots/1/count", {"counted": -1}, 422, "/counted"),
    ("POST", "/v1/lots/1/count", {"counted": "7"}, 422, "/counted"),
    ("POST", "/v1/lots/1/count", {"counted": 1, "release": [99]}, 422, "/release/0"),
    ("POST", "/v1/lots/1/count", {"counted": 1, "release": "all"}, 422, "/release"),
    ("POST", "/v1/lots/1/count", {"counted": 1, "release": [0]}, 422, "/release/0"),
    ("POST", "/v1/lots/1/discard", {}, 422, "/quantity"),
    ("POST", "/v1/lots/1/discard", {"quantity": 11}, 409, "/quantity"),
    ("POST", "/v1/lots/1/move", {}, 422, "/drawer"),
    ("POST", "/v1/lots/1/move", {"drawer": "Z9"}, 422, "/drawer"),
    ("POST", "/v1/lots/1/move", {"drawer": "A3"}, 409, ""),
    ("POST", "/v1/lots/1/move", {"drawer": "B1", "quantity": 11}, 409, "/quantity"),
    ("POST", "/v1/lots/99/count", {"counted": 1}, 404, ""),
    ("POST", "/v1/lots/0/count", {"counted": 1}, 404, ""),
    ("POST", "/v1/lots/99999999999999999999/count", {"counted": 1}, 404, ""),
    ("GET", "/v1/lots/abc", None, 404, ""),
    ("GET", "/v1/lots/-1", None, 404, ""),
    ("GET", "/v1/parts/NONE", None, 404, ""),
    ("GET", "/v1/parts/a%00b", None, 404, ""),
    ("GET", "/v1/drawers/JOB-0001", None, 404, ""),
    ("GET", "/v1/nothing", None, 404, ""),
    ("GET", "/v1/pens/PEN-1", None, 404, ""),
    ("GET", "/v1/pens/PEN-0099", None, 404, ""),
    ("GET", "/v1/jobs/PEN-0001", None, 404, ""),
    ("GET", "/v1/jobs/JOB-99999999999999999999", None, 404, ""),
    ("GET", "/v1/jobs/JOB-0099/plan", None, 404, ""),
    ("GET", "/v1/reservations/99", None, 404, ""),
    ("GET", "/v1/calculators/none", None, 404, ""),
    ("POST", "/v1/calculators/none", {}, 404, ""),
    ("POST", "/v1/fits/none", {}, 404, ""),
    ("GET", "/v1/settings/none", None, 404, ""),
    ("DELETE", "/v1/lots/1", None, 405, ""),
    ("PUT", "/v1/parts", {}, 405, ""),
    ("GET", "/v1/lots?limit=0", None, 422, "limit"),
    ("GET", "/v1/lots?limit=501", None, 422, "limit"),
    ("GET", "/v1/lots?limit=ten", None, 422, "limit"),
    ("GET", "/v1/lots?after=x", None, 422, "after"),
    ("GET", "/v1/lots?after=-1", None, 422, "after"),
    ("GET", "/v1/lots?after=99999999999999999999", None, 422, "after"),
    ("GET", "/v1/lots?girth_min=1", None, 422, "girth_min"),
    ("GET", "/v1/lots?available_min=-1", None, 422, "available_min"),
    ("GET", "/v1/lots?available_min=99999999999999999999", None, 422, "available_min"),
    ("GET", "/v1/lots?kind=%00", None, 422, "kind"),
    ("GET", "/v1/movements?lot=99999999999999999999", None, 422, "lot"),
    ("GET", "/v1/movements?verb=lost", None, 422, "verb"),
    ("GET", "/v1/reservations?state=gone", None, 422, "state"),
    ("GET", "/v1/jobs?state=gone", None, 422, "state"),
    ("POST", "/v1/pens", {"filling_system": "lever"}, 422, "/called"),
    ("POST", "/v1/pens", {"called": "x"}, 422, "/filling_system"),
    ("POST", "/v1/pens", {"called": "x", "filling_system": "magic"}, 422, "/filling_system"),
    (
        "POST",
        "/v1/pens",
        {"called": "x", "filling_system": "lever", "materials": "celluloid"},
        422,
        "/materials",
    ),
    (
        "POST",
        "/v1/pens",
        {"called": "x", "filling_system": "lever", "materials": [7]},
        422,
        "/materials/0",
    ),
    (
        "POST",
        "/v1/pens",
        {"called": "x", "filling_system": "lever", "materials": ["a"] * 21},
        422,
        "/materials",
    ),
    (
        "POST",
        "/v1/pens",
        {"called": "x", "filling_system": "lever", "readings": []},
        422,
        "/readings",
    ),
    ("POST", "/v1/pens/PEN-0001/readings", {}, 422, "/readings"),
    ("POST", "/v1/pens/PEN-0001/readings", {"readings": {}}, 422, "/readings"),
    ("POST", "/v1/pens/PEN-0099/readings", {"readings": {"barrel_bore": 8}}, 404, ""),
    (
        "POST",
        "/v1/pens/PEN-0001/readings",
        {"readings": {"barel_bore": 8}},
        422,
        "/readings/barel_bore",
    ),
    (
        "POST",
        "/v1/pens/PEN-0001/readings",
        {"readings": {"barrel_bore": {"worth": 8}}},
        422,
        "/readings/barrel_bore",
    ),
    (
        "POST",
        "/v1/pens/PEN-0001/readings",
        {"readings": {"barrel_bore": {"value": 8, "spread": "-1 mm"}}},
        422,
        "/readings/barrel_bore",
    ),
    (
        "POST",
        "/v1/pens/PEN-0001/readings",
        {"readings": {"barrel_bore": {"value": 8, "instrument": 7}}},
        422,
        "/readings/barrel_bore",
    ),
    (
        "POST",
        "/v1/pens/PEN-0001/readings",
        {"readings": {"barrel_bore": {"value": {"value": 8}}}},
        422,
        "/readings/barrel_bore",
    ),
    ("POST", "/v1/jobs", {}, 422, "/pen"),
    ("POST", "/v1/jobs", {"pen": "PEN-0099"}, 422, "/pen"),
    ("POST", "/v1/jobs", {"pen": 1}, 422, "/pen"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": 99}, 422, "/lot"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": "1"}, 422, "/lot"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": 0}, 422, "/lot"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": 2**63}, 422, "/lot"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": 1.5}, 422, "/lot"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"quantity": 1}, 422, "/lot"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": 1, "quantity": 0}, 422, "/quantity"),
    ("POST", "/v1/jobs/JOB-0001/reservations", {"lot": 1, "quantity": 11}, 409, "/quantity"),
    ("POST", "/v1/jobs/JOB-0001/close", {"outcomes": {}}, 422, "/outcomes"),
    ("POST", "/v1/reservations/99/use", {}, 404, ""),
    ("POST", "/v1/fits/sac", {**BODY, "materials": "latex"}, 422, "/materials"),
    ("POST", "/v1/fits/sac", {**BODY, "limit": 0}, 422, "/limit"),
    ("POST", "/v1/fits/sac", {**BODY, "limit": 201}, 422, "/limit"),
    ("POST", "/v1/calculators/sac", {}, 422, "/nipple_diameter"),
    ("POST", "/v1/calculators/sac", {**BODY, "limit": 3}, 422, "/limit"),
    ("POST", "/v1/calculators/sac", {**BODY, "bar_rule": "thrice"}, 422, "/bar_rule"),
    ("POST", "/v1/calculators/sac", {**BODY, "bar_height": "4 mm"}, 422, "/bar_height"),
    ("POST", "/v1/calculators/sac", {**BODY, "guard_bore": "7 mm"}, 422, "/guard_bore"),
    ("POST", "/v1/calculators/sac", {**BODY, "nipple_diameter": "8 mm"}, 422, "/nipple_diameter"),
    ("POST", "/v1/calculators/sac", {**BODY, "try_in": "1e9999999"}, 422, "/try_in"),
]


@pytest.fixture
def stocked(api: Api) -> Api:
    """A service with one lot of ten, one pen and one job."""
    api.stock()
    api.post("/v1/drawers", {"code": "B1"})
    api.job()
    return api


def _wheres(body: Any) -> set[str]:
    errors = body.get("errors", [])
    return {error.get("pointer", error.get("parameter")) for error in errors}


def _state(api: Api) -> list[str]:
    paths = ("drawers", "parts", "lots", "movements", "reservations", "pens", "jobs")
    return [api.get(f"/v1/{path}").text for path in paths]


def test_each_bad_request_is_refused_where_the_fault_is(stocked: Api) -> None:
    """Every row of the table gets its status and names its place, and nothing has changed."""
    before = _state(stocked)
    wrong = []
    for method, path, body, status, where in TABLE:
        reply = stocked.call(method, path, body)
        problem = reply.body or {}
        if (
            reply.status != status
            or reply.headers["Content-Type"] != "application/problem+json"
            or not {"type", "title", "status", "detail"} <= problem.keys()
            or (where and where not in _wheres(problem))
        ):
            wrong.append((method, path, body, reply.status, reply.text[:300]))
    assert not wrong
    assert _state(stocked) == before


@pytest.mark.parametrize("bad", BAD_LENGTHS, ids=lambda bad: repr(bad)[:30])
def test_bad_lengths_are_refused_wherever_a_length_is_taken(stocked: Api, bad: Any) -> None:
    """A length that is none is refused as a dimension, a measurement, a reading and an input."""
    places = [
        (
            "/v1/parts",
            {"number": "P", "kind": "sac", "dimensions": {"length": bad}},
            "/dimensions/length",
        ),
        (
            "/v1/lots",
            {"part": "SAC-15-STR", "drawer": "A3", "quantity": 1, "measured": {"length": bad}},
            "/measured/length",
        ),
        ("/v1/pens/PEN-0001/readings", {"readings": {"barrel_bore": bad}}, "/readings/barrel_bore"),
        ("/v1/calculators/sac", {**BODY, "barrel_bore": bad}, "/barrel_bore"),
        ("/v1/fits/sac", {**BODY, "nipple_diameter": bad}, "/nipple_diameter"),
    ]
    for path, body, where in places:
        reply = stocked.post(path, body)
        assert reply.status == 422, (path, reply.text)
        assert where in _wheres(reply.body), reply.text


@pytest.mark.parametrize(
    ("member", "bad"),
    [
        ("quantity", 0),
        ("quantity", -1),
        ("quantity", 1.5),
        ("quantity", "1"),
        ("quantity", True),
        ("quantity", 10**7),
        ("quantity", 2**70),
        ("made_on", "tomorrow"),
        ("made_on", "2026-13"),
        ("made_on", "2026-02-30"),
        ("made_on", "2099"),
        ("made_on", "2026-Q5"),
        ("made_on", 7),
        ("made_on", []),
        ("cost", "free"),
        ("cost", "-1"),
        ("cost", "1.999"),
        ("cost", True),
        ("cost", {}),
        ("material", ""),
        ("material", 7),
        ("material_confidence", "sure"),
        ("label", "x" * 201),
        ("label", "a\u0000"),
        ("measured", {"wire_diameter": 1}),
        ("measured", {"outside_diameter": 5, "inside_diameter": 6}),
        ("in_hand", 5),
    ],
)
def test_bad_members_of_a_lot_are_refused(stocked: Api, member: str, bad: Any) -> None:
    """Each impossible member of a new lot is refused under its own name, and no lot is made."""
    body = {"part": "SAC-15-STR", "drawer": "A3", "quantity": 1, member: bad}
    reply = stocked.post("/v1/lots", body)
    assert reply.status == 422, reply.text
    assert any(where.startswith(f"/{member}") for where in _wheres(reply.body)), reply.text
    assert len(stocked.get("/v1/lots").body["lots"]) == 1


def test_improbable_input_answers_with_a_warning(stocked: Api) -> None:
    """A washer 6.5 mm thick is taken, with the question whether 0.65 mm was meant."""
    part = {"number": "W1", "kind": "gasket", "dimensions": {"thickness": "6.5 mm"}}
    reply = stocked.post("/v1/parts", part)
    assert reply.status == 201
    assert "0.65 mm" in reply.body["warnings"][0]
    pen = {"called": "x", "filling_system": "lever", "readings": {"nipple_diameter": "64 mm"}}
    assert "6.4 mm" in stocked.post("/v1/pens", pen).body["warnings"][0]
