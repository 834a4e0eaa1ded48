"""A packing fills its cavity: a plan asks for as many as go in, and a person may say otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api
from support.plunger import HEAD, PACKING, VACUUM, gaskets, open_job

SAYS = "8 fill the cavity: add until the rod drags evenly; what is left goes back"


@pytest.fixture
def job(api: Api) -> str:
    """A plunger filler's job: a cavity 6 mm deep, packings wanted, a head washer in hand."""
    gaskets(api, "HEAD", HEAD, 2, "A1")
    readings = {**dict(VACUUM["readings"]), "seat_depth": "6 mm"}  # type: ignore[call-overload]
    number = api.post("/v1/pens", VACUUM | {"readings": readings}).body["number"]
    found = str(api.post("/v1/jobs", {"pen": number}).body["number"])
    assert api.patch(f"/v1/jobs/{found}/needs/2", {"decided": True}).status == 200
    return found


def packing_of(api: Api, job: str) -> dict[str, Any]:
    """Return the plan of the packings."""
    found: dict[str, Any] = api.get(f"/v1/jobs/{job}/plan").body["needs"][1]
    return found


def test_fewer_than_fill_the_cavity_are_short(api: Api, job: str) -> None:
    """Three in the drawer where eight fill the cavity: five short, in words, nothing reserved."""
    lot = gaskets(api, "PACK", PACKING, 3, "A2")
    plan = packing_of(api, job)
    assert (plan["quantity"], plan["short"], plan["state"]) == (8, 5, "open")
    assert plan["best"] == [{"lot": lot, "quantity": 3}]
    assert SAYS in plan["warnings"]
    assert plan["to_order"][0]["quantity"] == 5
    assert api.get(f"/v1/jobs/{job}/plan").body["complete"] is False
    refused = api.post(f"/v1/jobs/{job}/reservations")
    assert refused.status == 409
    assert f"lacks 5 ({SAYS})" in refused.body["detail"]


def test_as_many_as_fill_the_cavity_are_reserved(api: Api, job: str) -> None:
    """Of twelve, eight are promised; one given up can be promised again by hand, and no ninth."""
    lot = gaskets(api, "PACK", PACKING, 12, "A2")
    assert api.get(f"/v1/jobs/{job}/plan").body["complete"] is True
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    (held,) = [each for each in made if each["lot"] == lot]
    assert held["quantity"] == 8
    assert packing_of(api, job)["state"] == "promised"
    assert api.patch(f"/v1/jobs/{job}/needs/2", {"note": "felt"}).status == 200
    api.post(f"/v1/reservations/{held['id']}/release", {"quantity": 1})
    assert packing_of(api, job)["short"] == 0
    path = f"/v1/jobs/{job}/reservations"
    (again,) = api.post(path, {"lot": lot, "need": 2}).body["reservations"]
    assert again["quantity"] == 1
    assert api.post(path, {"lot": lot, "need": 2}).status == 409


def test_a_person_says_how_many(api: Api, job: str) -> None:
    """A number that a person names goes before what would fill the cavity."""
    gaskets(api, "PACK", PACKING, 3, "A2")
    changed = api.patch(f"/v1/jobs/{job}/needs/2", {"quantity": 3})
    assert (changed.body["quantity"], changed.body["at_most"]) == (3, None)
    plan = packing_of(api, job)
    assert (plan["quantity"], plan["short"]) == (3, 0)
    assert SAYS not in plan["warnings"]
    assert api.get(f"/v1/jobs/{job}/plan").body["complete"] is True


def test_fewer_fitted_are_enough_to_close(api: Api, job: str) -> None:
    """Eight are a maximum: with three fitted and the rest given back nothing is said of them."""
    lot = gaskets(api, "PACK", PACKING, 12, "A2")
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    (held,) = [each for each in made if each["lot"] == lot]
    api.post(f"/v1/reservations/{held['id']}/use", {"quantity": 3})
    api.post(f"/v1/reservations/{held['id']}/release")
    unfinished = api.get(f"/v1/jobs/{job}").body["unfinished"]
    assert not [each for each in unfinished if each.startswith("need 2 ")]
    plan = packing_of(api, job)
    assert (plan["state"], plan["best"], plan["short"]) == ("met", [], 0)
    refused = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "need": 2})
    assert refused.status == 409


def test_without_the_depth_the_range_of_the_system_stands(api: Api) -> None:
    """Nobody has measured the cavity: the least is asked for, as the filling system says."""
    number = api.post("/v1/pens", VACUUM).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    api.patch(f"/v1/jobs/{job}/needs/2", {"decided": True})
    assert packing_of(api, job)["quantity"] == 2


@pytest.mark.usefixtures("job")
def test_what_is_to_be_ordered_counts_what_fills_the_cavity(api: Api) -> None:
    """The list of what to order wants as many for the job as its plan does."""
    gaskets(api, "PACK", PACKING, 3, "A2")
    lines = api.get("/v1/reorder").body["lines"]
    (line,) = [each for each in lines if each["part"] == "PACK"]
    assert (line["wanted_by_jobs"], line["short"]) == (8, 5)


def test_a_sheet_in_a_drawer_is_punched_before_washers_are_bought(api: Api) -> None:
    """What a sheet gives is named with its drawer, and the rest is ordered; {} takes none."""
    job = open_job(api)
    api.post("/v1/drawers", {"code": "S1"})
    assert api.post("/v1/parts", {"number": "SHEET", "kind": "sheet"}).status == 201
    before = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    assert (before["to_make"], before["to_order"][0]["quantity"]) == ([], 1)
    thickness = before["result"]["thickness"] or 1.0
    sheet = {"width": "50 mm", "length": "80 mm", "thickness": f"{thickness} mm"}
    body = {
        "part": "SHEET",
        "drawer": "S1",
        "quantity": 1,
        "measured": sheet,
        "material": "nitrile",
    }
    lot = api.post("/v1/lots", body).body["id"]
    after = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    (made,) = after["to_make"]
    assert (made["lot"], made["place"], made["pieces"]) == (lot, "S1", 1)
    assert made["says"].startswith(f"punch 1 from bag {lot}: ")
    assert (after["to_order"], after["short"]) == ([], 1)
    assert api.post(f"/v1/jobs/{job}/reservations").status == 409
    api.patch(f"/v1/jobs/{job}/needs/2", {"dropped": True, "why": "sound"})
    order = api.get("/v1/tonight").body["order"]
    assert [(each["job"], each["made"]["pieces"]) for each in order["to_make"]] == [(job, 1)]
    assert (order["total"], order["unsold"]) == ("0.00", [])
    thin = {"measured": sheet | {"thickness": "5 mm"}}
    api.patch(f"/v1/lots/{lot}", thin)
    assert api.get(f"/v1/jobs/{job}/plan").body["needs"][0]["to_make"] == []
