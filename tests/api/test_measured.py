"""What is measured on a lot: with its spread and its instrument, and what follows from it."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api

GLAND = {
    "gland": "rod",
    "rod": "5.1 mm",
    "bore": "6.85 mm",
    "groove_width": "1.5 mm",
    "duty": "moving",
}
MICROMETER = {"spread": "0.01 mm", "instrument": "micrometer"}


def ring(api: Api, measured: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Take in a bag of rings whose part says nothing of their size; return the lot."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": "RING", "kind": "o_ring", "material": "nbr"})
    body = {"part": "RING", "drawer": "A3", "quantity": 5, "measured": measured, **more}
    reply = api.post("/v1/lots", body)
    assert reply.status == 201, reply.text
    return dict(reply.body)


def test_a_spread_and_an_instrument_are_kept_and_shown(api: Api) -> None:
    """A reading may be an object; a plain one stands beside it as before."""
    lot = ring(api, {"outside_diameter": {"value": "7.00 mm", **MICROMETER}, "inside_diameter": 5})
    assert lot["measured"] == {"outside_diameter": 7.0, "inside_diameter": 5.0}
    assert lot["measured_as_entered"]["outside_diameter"] == "7.00 mm"
    assert lot["measured_how"] == {"outside_diameter": {"spread": 0.01, "instrument": "micrometer"}}


def test_a_new_reading_has_a_spread_of_its_own_or_none(api: Api) -> None:
    """A spread belongs to its reading, and goes with it."""
    lot = ring(api, {"outside_diameter": {"value": "7.00 mm", **MICROMETER}})
    path = f"/v1/lots/{lot['id']}"
    changed = api.patch(path, {"measured": {"inside_diameter": {"value": 5, "spread": 0.02}}}).body
    assert changed["measured_how"] == {
        "outside_diameter": {"spread": 0.01, "instrument": "micrometer"},
        "inside_diameter": {"spread": 0.02, "instrument": None},
    }
    changed = api.patch(path, {"measured": {"outside_diameter": 7, "inside_diameter": None}}).body
    assert changed["measured_how"] == {}


@pytest.mark.parametrize(
    ("reading", "sentence"),
    [
        ({"spread": "0.01 mm"}, "give the length alone"),
        ({"value": 7, "plus": 1}, "give the length alone"),
        ({"value": {"value": 7}}, "object"),
        ({"value": 7, "spread": "-0.1"}, "spread: "),
        ({"value": 7, "spread": "much"}, "spread: "),
        ({"value": 7, "instrument": 3}, "instrument: must be a text"),
        ({"value": 7, "instrument": ""}, "instrument: must not be empty"),
        ([7], "list"),
    ],
)
def test_a_reading_that_cannot_be_read_is_refused(api: Api, reading: Any, sentence: str) -> None:
    """What is wrong is named with its dimension, and nothing is kept."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": "RING", "kind": "o_ring"})
    body = {"part": "RING", "drawer": "A3", "quantity": 5}
    reply = api.post("/v1/lots", body | {"measured": {"outside_diameter": reading}})
    assert reply.status == 422, reply.text
    (error,) = reply.body["errors"]
    assert error["pointer"] == "/measured/outside_diameter"
    assert sentence in error["detail"]


def test_outside_and_inside_give_the_section(api: Api) -> None:
    """Two measured diameters are enough: the section follows, and the ring is found and fits."""
    lot = ring(
        api,
        {
            "outside_diameter": {"value": "7 mm", **MICROMETER},
            "inside_diameter": {"value": "5 mm", **MICROMETER},
        },
    )
    assert (lot["dimensions"]["cross_section"], lot["basis"]["cross_section"]) == (1.0, "measured")
    assert "cross_section" not in lot["measured"]
    (found,) = api.post("/v1/fits/o_ring", GLAND).body["candidates"]
    assert (found["lot"], found["verdict"]) == (lot["id"], "fits"), found["why"]


def test_without_a_spread_the_setting_counts(api: Api) -> None:
    """The same ring measured as one does by default has to be tried in."""
    ring(api, {"outside_diameter": "7 mm", "inside_diameter": "5 mm"})
    (found,) = api.post("/v1/fits/o_ring", GLAND).body["candidates"]
    assert found["verdict"] == "try_in"


def test_what_followed_goes_with_the_reading(api: Api) -> None:
    """Take the outside diameter away, and the section is not known any more."""
    lot = ring(api, {"outside_diameter": "7 mm", "inside_diameter": "5 mm"})
    changed = api.patch(f"/v1/lots/{lot['id']}", {"measured": {"outside_diameter": None}}).body
    assert changed["dimensions"] == {"inside_diameter": 5.0}


@pytest.mark.parametrize("measured", [{}, {"length": "70 mm"}])
def test_a_bag_of_which_only_the_number_is_known_is_tried_in(api: Api, measured: Any) -> None:
    """A packet's "16" is a claim: the bag is found by it, tried in, and never fits by it."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": "SACS", "kind": "sac", "material": "latex"})
    body = {"part": "SACS", "drawer": "A3", "quantity": 5, "label": "16", "measured": measured}
    lot = api.post("/v1/lots", body).body
    assert (lot["dimensions"]["outside_diameter"], lot["measured"]) == (
        6.35,
        dict.fromkeys(measured, 70.0),
    )
    readings = {"barrel_bore": "8.5 mm", "bar_height": "0.8 mm", "nipple_diameter": "6.2 mm"}
    (found,) = api.post("/v1/fits/sac", readings).body["candidates"]
    assert (found["lot"], found["verdict"], found["basis"]) == (lot["id"], "try_in", "nominal")
    changed = api.patch(f"/v1/lots/{lot['id']}", {"label": "the good ones"}).body
    assert "outside_diameter" not in changed["dimensions"]


def test_a_table_number_of_rings_is_tried_in(api: Api) -> None:
    """A bag marked -008 is found by the size that the table gives it."""
    lot = ring(api, {}, label="AS568-008")
    assert lot["basis"] == {"inside_diameter": "nominal", "cross_section": "nominal"}
    gland = {"gland": "piston", "bore": "7.6 mm", "groove_diameter": "4.6 mm", "duty": "static"}
    (found,) = api.post("/v1/fits/o_ring", gland).body["candidates"]
    assert (found["lot"], found["verdict"], found["basis"]) == (lot["id"], "try_in", "nominal")


def test_a_part_stands_before_its_packet(api: Api) -> None:
    """Where the catalogue has the size the label says nothing, and a reading is before both."""
    api.post("/v1/drawers", {"code": "A3"})
    part = {"number": "SACS", "kind": "sac", "dimensions": {"outside_diameter": "7 mm"}}
    api.post("/v1/parts", part)
    body = {"part": "SACS", "drawer": "A3", "quantity": 5, "label": "16"}
    assert api.post("/v1/lots", body).body["dimensions"]["outside_diameter"] == 7.0
    body["measured"] = {"outside_diameter": "6.3 mm"}
    assert api.post("/v1/lots", body).body["dimensions"]["outside_diameter"] == 6.3


def test_the_list_of_lots_brings_spreads_back(api: Api) -> None:
    """The list has a column for each spread and each instrument, and an import reads them."""
    lot = ring(api, {"outside_diameter": {"value": "7 mm", **MICROMETER}, "inside_diameter": 5})
    raw = api.get("/v1/export/lots.csv").data
    sent = api.call("POST", "/v1/imports?of=lots&name=lots.csv", raw=raw)
    assert sent.body["state"] == "checked", sent.body["problems"]
    assert api.post(f"/v1/imports/{sent.body['id']}/apply").status == 200
    again = api.get(f"/v1/lots/{lot['id'] + 1}").body
    for name in ("measured", "measured_how", "dimensions", "basis"):
        assert again[name] == lot[name]
