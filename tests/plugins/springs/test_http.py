"""Springs and bars through the whole service: endpoint, pieces in hand, refusals, OpenAPI."""

from __future__ import annotations

import pytest

from support.api import Api

SPRING = {
    "wire_diameter": {"value": "0.5 mm", "spread": "0.01 mm", "instrument": "micrometer"},
    "outside_diameter": "5 mm",
    "total_coils": 10,
    "ends": "squared_ground",
    "free_length": "16 mm",
    "material": "music_wire",
}


def lot(api: Api, number: str, kind: str, measured: dict[str, str], **dimensions: str) -> int:
    """Put one lot of a new part into the drawer, and return its number."""
    api.post("/v1/drawers", {"code": "S1"})
    part = {
        "number": number,
        "kind": kind,
        "name": number,
        "material": "steel",
        "dimensions": dimensions or measured,
    }
    assert api.post("/v1/parts", part).status == 201
    body = {"part": number, "drawer": "S1", "quantity": 1}
    reply = api.post("/v1/lots", body | ({"measured": measured} if measured else {}))
    assert reply.status == 201, reply.text
    return int(reply.body["id"])


def test_spring_is_answered_with_its_band(api: Api) -> None:
    """Rate, band from the noted spread, index, solid length in millimetres, and a drawing."""
    reply = api.post("/v1/calculators/spring", SPRING | {"working_lengths": ["12 mm", "14 mm"]})
    assert reply.status == 200, reply.text
    result = reply.body["result"]
    assert result["rate_n_per_mm"] == 0.886274
    assert result["rate_band_n_per_mm"]["min"] < 0.886274 < result["rate_band_n_per_mm"]["max"]
    assert (result["spring_index"], result["solid_length"]) == (9, 5)
    assert [force["length"] for force in result["forces"]] == [12, 14]
    assert {each["set"] for each in result["strength"]} == {"shigley_8th_on", "older_handbook"}
    assert reply.body["drawing"].startswith("<svg")
    assert any("eye protection" in caution for caution in reply.body["cautions"])


def test_springs_in_hand_come_like_for_like_first(api: Api) -> None:
    """The like first though it arrived last, then the other; too strong a one is refused."""
    other = lot(
        api, "SPR-OTHER", "spring",
        {"outside_diameter": "5.25", "wire_diameter": "0.52", "length": "16"},
    )  # fmt: skip
    strong = lot(
        api, "SPR-STRONG", "spring",
        {"outside_diameter": "5", "wire_diameter": "0.6", "length": "16"},
    )  # fmt: skip
    like = lot(
        api, "SPR-LIKE", "spring",
        {"outside_diameter": "5", "wire_diameter": "0.5", "length": "16"},
    )  # fmt: skip
    reply = api.post("/v1/fits/spring", SPRING | {"rod_diameter": "3.5", "bore_diameter": "6"})
    assert reply.status == 200, reply.text
    assert [found["lot"] for found in reply.body["candidates"]] == [like, other]
    assert [each["lot"] for each in reply.body["refused"]] == [strong]


def test_bars_in_hand_are_cut(api: Api) -> None:
    """A longer bar is offered with what is cut away, a shorter one is refused."""
    long = lot(api, "BAR-LONG", "pressure_bar", {"width": "4.5", "length": "60"})
    short = lot(api, "BAR-SHORT", "pressure_bar", {"width": "4.5", "length": "40"})
    body = {"barrel_depth": "62 mm", "barrel_bore": "8 mm", "tenon_length": "12 mm"}
    reply = api.post("/v1/fits/pressure_bar", body)
    assert reply.status == 200, reply.text
    (found,) = reply.body["candidates"]
    assert (found["lot"], found["margins"]["cut_away"]) == (long, 12)
    (refused,) = reply.body["refused"]
    assert refused["lot"] == short
    assert "too short" in refused["why"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"outside_diameter": "1 mm"}, "/outside_diameter"),
        ({"wire_diameter": "6 mm"}, "/wire_diameter"),
        ({"wire_diameter": 0}, "/wire_diameter"),
        ({"wire_diameter": -1}, "/wire_diameter"),
        ({"total_coils": 0}, "/total_coils"),
        ({"total_coils": -4}, "/total_coils"),
        ({"total_coils": 2}, "/total_coils"),
        ({"free_length": "4 mm"}, "/free_length"),
        ({"shear_modulus_gpa": 0}, "/shear_modulus_gpa"),
        ({"ends": "bent"}, "/ends"),
        ({"material": "cheese"}, "/material"),
    ],
)
def test_wrong_input_is_refused_where_it_stands(api: Api, change, pointer) -> None:
    """Index 1, thick wire, zero, negative, no coils, shorter than solid: 422 with its pointer."""
    reply = api.post("/v1/calculators/spring", SPRING | change)
    assert reply.status == 422
    assert reply.headers["Content-Type"].startswith("application/problem+json")
    assert pointer in {problem["pointer"] for problem in reply.body["errors"]}


def test_a_bar_that_fills_its_bore_is_refused(api: Api) -> None:
    """8 mm of bar in 8 mm of bore is impossible."""
    body = {"barrel_depth": "62", "barrel_bore": "8", "bar_width": "8"}
    reply = api.post("/v1/calculators/pressure_bar", body)
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == "/bar_width"


def test_coils_of_a_lot_are_kept(api: Api) -> None:
    """A lot of springs carries its coils and ends, which are no lengths."""
    number = lot(api, "SPR-A", "spring", {"outside_diameter": "5", "wire_diameter": "0.5"})
    reply = api.patch(
        f"/v1/lots/{number}", {"attributes": {"total_coils": 10.25, "ends": "squared"}}
    )
    assert reply.status == 200, reply.text
    assert reply.body["attributes"]["ends"] == "squared"
