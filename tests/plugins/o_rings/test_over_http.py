"""O-rings through the whole service: endpoint, fits, size tables, OpenAPI, and its speed."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api

BODY = {
    "gland": "piston",
    "bore": "7.6 mm",
    "groove_diameter": "4.6 mm",
    "groove_width": "2.4 mm",
    "duty": "static",
}


def stock(api: Api, number: str, dimensions: dict[str, str], **lot: Any) -> int:
    """Make a part of rings and a lot of it; return the lot's id."""
    api.post("/v1/drawers", {"code": "A3"})
    part = {"number": number, "kind": "o_ring", "name": number, "counted_by": "piece"}
    made = api.post("/v1/parts", part | {"dimensions": dimensions})
    assert made.status == 201, made.text
    reply = api.post("/v1/lots", {"part": number, "drawer": "A3", "quantity": 5} | lot)
    assert reply.status == 201, reply.text
    return int(reply.body["id"])


def test_endpoint_answers_in_millimetres(api: Api) -> None:
    """A ring's lengths are millimetres, its figures per cent, its settings named."""
    reply = api.post("/v1/calculators/o_ring", BODY)
    assert reply.status == 200, reply.text
    result = reply.body["result"]
    ring = next(ring for ring in result["rings"] if ring["size"] == "-008")
    assert ring["standard"] == "AS568"
    assert (ring["inside_diameter"], ring["cross_section"]) == (4.4704, 1.778)
    assert ring["squeeze_percent"]["min"] < 12 < ring["squeeze_percent"]["nominal"]
    assert result["gap"] == {"nominal": 1.5, "min": 1.5, "max": 1.5}
    assert "o_ring.squeeze_static_low" in {used["name"] for used in reply.body["settings"]}
    assert reply.body["drawing"].startswith("<svg")


def test_one_ring_is_judged(api: Api) -> None:
    """The group `ring` is judged alone, its tolerances counted."""
    ring = {"inside_diameter": "5 mm", "cross_section": 1, "cross_section_tolerance": "0.08 mm"}
    body = BODY | {"groove_diameter": "5.1", "bore": "6.85", "groove_width": "1.5", "ring": ring}
    found = api.post("/v1/calculators/o_ring", body).body["result"]["rings"]
    assert [one["standard"] for one in found] == ["as given"]
    assert found[0]["squeeze_percent"]["min"] < 4 < found[0]["squeeze_percent"]["nominal"]
    assert found[0]["verdict"] != "fits"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"bore": "4 mm"}, "/groove_diameter"),
        ({"bore": "-7.6 mm"}, "/bore"),
        ({"bore": 0}, "/bore"),
        ({"groove_width": "9 mm"}, "/groove_width"),
        ({"bore_tolerance": "-0.1"}, "/bore_tolerance"),
        ({"duty": "sliding"}, "/duty"),
        ({"gland": "cone"}, "/gland"),
        ({"ring": {"inside_diameter": "4.47"}}, "/ring"),
        (
            {
                "ring": {
                    "inside_diameter": "4.47",
                    "cross_section": "1.78",
                    "cross_section_tolerance": "2",
                }
            },
            "/ring/cross_section_tolerance",
        ),
    ],
)
def test_wrong_input_is_named(api: Api, change: dict[str, Any], pointer: str) -> None:
    """Every refusal is a 422 that points at what is wrong."""
    reply = api.post("/v1/calculators/o_ring", BODY | change)
    assert reply.status == 422
    assert [error["pointer"] for error in reply.body["errors"]] == [pointer]


def test_pieces_in_hand_then_tables(api: Api) -> None:
    """The measured bag fits and leads, the nominal one is to be tried, a thick one is refused."""
    size = {"inside_diameter": "4.47 mm", "cross_section": "1.78 mm"}
    measured = stock(api, "RING-8", size, measured=size, material="nbr")
    nominal = stock(api, "RING-8-B", size, material="nbr")
    thick = stock(
        api, "RING-9", {"inside_diameter": "4.5 mm", "cross_section": "2.9 mm"}, material="nbr"
    )
    reply = api.post("/v1/fits/o_ring", BODY)
    assert reply.status == 200, reply.text
    found = [(one["lot"], one["verdict"], one["basis"]) for one in reply.body["candidates"]]
    assert found == [(measured, "fits", "measured"), (nominal, "try_in", "nominal")]
    assert [one["lot"] for one in reply.body["refused"]] == [thick]
    assert reply.body["candidates"][0]["margins"]["squeeze_percent"] == 14.4
    assert reply.body["result"]["rings"][0]["verdict"] == "try_in"
    assert reply.body["to_buy"] == []


def test_nothing_in_hand_says_what_to_buy(api: Api) -> None:
    """With an empty drawer, a size is asked for and its section is to be checked."""
    to_buy = api.post("/v1/fits/o_ring", BODY).body["to_buy"]
    assert len(to_buy) == 2
    assert "section" in to_buy[0]["check_on_arrival"]


def test_silicone_on_a_moving_rod_is_refused(api: Api) -> None:
    """A bag of silicone rings of the right size is refused with its reason."""
    size = {"inside_diameter": "2.55 mm", "cross_section": "1.88 mm"}
    lot = stock(api, "RING-S", size, measured=size, material="silicone")
    body = {"gland": "rod", "bore": "5.98", "rod": "2.6", "duty": "moving", "grease": "silicone"}
    reply = api.post("/v1/fits/o_ring", body)
    refused = {one["lot"]: one["why"] for one in reply.body["refused"]}
    assert "tears on a moving rod" in refused[lot]
    assert "silicone grease" in refused[lot]


def test_identity_over_http(api: Api) -> None:
    """A measured ring is named; its spread may come with the readings."""
    body = {
        "inside_diameter": {"value": "2.9 mm", "spread": "0.02 mm"},
        "cross_section": {"value": "1.78 mm", "spread": "0.02 mm"},
    }
    reply = api.post("/v1/calculators/ring_identity", body)
    assert reply.status == 200, reply.text
    assert reply.body["result"]["sizes"][0]["size"] == "-006"
    assert reply.body["result"]["inside_diameter_spread"] == 0.02


def test_as568_is_served_row_by_row(api: Api) -> None:
    """The table has its source, its exact millimetres, and all of its rows over its pages."""
    path, rows = "/v1/size-tables/as568?limit=200", []
    while path:
        page = api.get(path)
        assert page.status == 200, page.text
        assert "AS568" in page.body["source"]
        rows += page.body["sizes"]
        path = page.body["next"]
    assert len(rows) == 369
    row = next(row for row in rows if row["size"] == "-006")
    assert row["inside_diameter"] == 2.8956
    assert row["cross_section"] == 1.778
    assert row["inside_diameter_tolerance"] == 0.127
    assert row["cross_section_tolerance"] == 0.0762


@pytest.mark.parametrize("name", ["iso3601_1", "jis_b2401_p", "bs4518"])
def test_other_tables_are_served(api: Api, name: str) -> None:
    """Every table answers with its source and rows of the same five columns."""
    page = api.get(f"/v1/size-tables/{name}?limit=5")
    assert page.status == 200, page.text
    assert page.body["source"]
    columns = {
        "size",
        "inside_diameter",
        "cross_section",
        "inside_diameter_tolerance",
        "cross_section_tolerance",
    }
    assert all(columns <= row.keys() for row in page.body["sizes"])


def test_openapi_documents_the_members_of_a_result(api: Api) -> None:
    """The members of a ring's answer stand in the OpenAPI document."""
    document = api.get("/openapi.json").body
    assert "squeeze_percent" in str(document["components"]["schemas"])
