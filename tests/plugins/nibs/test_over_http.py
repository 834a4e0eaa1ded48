"""Line widths and the kinds of donors' components through the service."""

from __future__ import annotations

import pytest

from support.api import Api


def test_endpoint_answers_with_sets_drawing_and_settings(api: Api) -> None:
    """0.5 mm gives both sets, a drawing, and the settings of every Western bound."""
    reply = api.post("/v1/calculators/line_width", {"width": "0.5 mm"})
    assert reply.status == 200, reply.text
    assert reply.body["result"]["western"] == ["EF", "F"]
    assert reply.body["result"]["japanese"] == ["B"]
    assert reply.body["drawing"].startswith("<svg")
    values = {setting["name"]: setting["value"] for setting in reply.body["settings"]}
    assert values["line_width.western_f_low"] == 0.45
    assert values["line_width.western_bb_high"] is None


def test_a_bound_can_be_changed_with_a_reason(api: Api) -> None:
    """A workshop that calls 0.5 mm no extra fine says so once."""
    change = {"value": "0.48 mm", "why": "our own samples"}
    assert api.patch("/v1/settings/line_width.western_ef_high", change).status == 200
    reply = api.post("/v1/calculators/line_width", {"width": 0.5})
    assert reply.body["result"]["western"] == ["F"]


@pytest.mark.parametrize("width", [0, -0.5, "21 mm", "fine", None])
def test_a_width_that_cannot_be_is_422(api: Api, width) -> None:
    """Nothing, less than nothing, wider than any pen, and no length are refused at the width."""
    reply = api.post("/v1/calculators/line_width", {"width": width})
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == "/width"


def test_the_japanese_table_is_served_with_its_source(api: Api) -> None:
    """The seven grades are a size table that says how they were measured."""
    reply = api.get("/v1/size-tables/japanese_line_widths")
    assert reply.status == 200, reply.text
    assert "50 g and 60°" in reply.body["source"]
    assert [row["size"] for row in reply.body["sizes"]] == ["UEF", "EF", "F", "MF", "M", "B", "BB"]
    assert reply.body["sizes"][3]["width_max"] == 0.38


def test_donor_components_are_found_by_their_dimensions(api: Api) -> None:
    """A cap goes into a drawer like any piece and is found by its thread."""
    api.post("/v1/drawers", {"code": "C1"})
    part = {"number": "CAP-1", "kind": "cap", "dimensions": {"thread_diameter": "12.6 mm"}}
    assert api.post("/v1/parts", part).status == 201
    lot = {"part": "CAP-1", "drawer": "C1", "quantity": 1}
    assert api.post("/v1/lots", lot).status == 201
    found = api.get("/v1/lots?kind=cap&thread_diameter_min=12.5mm&thread_diameter_max=12.7mm")
    assert [one["part"] for one in found.body["lots"]] == ["CAP-1"]
