"""Gaskets through the whole service: endpoint, pieces in hand, table, settings, OpenAPI."""

from __future__ import annotations

import pytest

from support.api import Api

SHEET = {
    "outside_diameter": "21/64 in",
    "inside_diameter": "1/16 in",
    "sheet_length": "100 mm",
    "sheet_width": "50 mm",
    "spacing": "1 mm",
}


def test_sheet_is_counted(api: Api) -> None:
    """The endpoint counts both layouts, names the better, its waste, and draws it."""
    reply = api.post("/v1/calculators/gasket", SHEET)
    assert reply.status == 200, reply.text
    result = reply.body["result"]
    assert (result["count_square"], result["count_staggered"]) == (50, 60)
    assert (result["best"], result["waste_percent"]) == ("staggered", 36.91)
    assert reply.body["drawing"].startswith("<svg")
    assert reply.body["sources"]
    assert "gasket.punches" in {setting["name"] for setting in reply.body["settings"]}


def test_washers_in_hand_are_ranked(api: Api) -> None:
    """A measured washer fits, a packet's size is to be tried in, one too large is refused."""
    api.post("/v1/drawers", {"code": "G1"})
    part = {
        "number": "HEAD-21",
        "kind": "gasket",
        "name": "head washer",
        "material": "nbr",
        "dimensions": {
            "outside_diameter": "21/64 in",
            "inside_diameter": "1/16 in",
            "thickness": "0.025 in",
        },
    }
    assert api.post("/v1/parts", part).status == 201
    lots = {}
    for name, measured in (
        ("measured", {"outside_diameter": "8.30"}),
        ("nominal", None),
        ("large", {"outside_diameter": "8.9"}),
    ):
        body = {"part": "HEAD-21", "drawer": "G1", "quantity": 2}
        reply = api.post("/v1/lots", body if measured is None else body | {"measured": measured})
        assert reply.status == 201, reply.text
        lots[reply.body["id"]] = name
    reply = api.post("/v1/fits/gasket", {"backing_washer": "8.2 mm"})
    assert reply.status == 200, reply.text
    verdicts = {lots[found["lot"]]: found["verdict"] for found in reply.body["candidates"]}
    assert verdicts == {"measured": "fits", "nominal": "try_in"}
    assert [lots[each["lot"]] for each in reply.body["refused"]] == ["large"]
    alone = api.post("/v1/fits/head_washer", {"backing_washer": "8.2 mm"})
    assert [found["lot"] for found in alone.body["candidates"]] == [
        found["lot"] for found in reply.body["candidates"]
    ]


def test_punches_of_the_workshop_are_a_setting(api: Api) -> None:
    """A changed list of punches changes the nearest, and the answer names the setting."""
    changed = api.patch("/v1/settings/gasket.punches", {"value": "8.3; 1.5", "why": "my own set"})
    assert changed.status == 200, changed.text
    reply = api.post("/v1/calculators/gasket", {"backing_washer": "8.2 mm"})
    assert reply.body["result"]["outside_punch"]["diameter"] == 8.3
    used = {setting["name"]: setting["value"] for setting in reply.body["settings"]}
    assert used["gasket.punches"] == [8.3, 1.5]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"inside_diameter": "9"}, "/inside_diameter"),
        ({"outside_diameter": 0}, "/outside_diameter"),
        ({"outside_diameter": -3}, "/outside_diameter"),
        ({"spacing": "-1 mm"}, "/spacing"),
        ({"sheet_length": "2000 mm"}, "/sheet_length"),
        ({"outside_diameter": "wide"}, "/outside_diameter"),
        ({"mode": "round"}, "/mode"),
    ],
)
def test_wrong_input_is_refused_where_it_stands(api: Api, change, pointer) -> None:
    """Swapped, zero, negative, over a metre, no number, no such case: 422 with its pointer."""
    reply = api.post("/v1/calculators/gasket", SHEET | change)
    assert reply.status == 422
    assert reply.headers["Content-Type"].startswith("application/problem+json")
    assert pointer in {problem["pointer"] for problem in reply.body["errors"]}


def test_head_washers_are_served_as_a_table(api: Api) -> None:
    """The three published sizes come with their source."""
    reply = api.get("/v1/size-tables/head_washers")
    assert [row["size"] for row in reply.body["sizes"]] == ["9/32 in", "21/64 in", "25/64 in"]
    assert reply.body["source"]
