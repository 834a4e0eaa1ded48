"""Needs that depend on each other are planned together: a new bar stands as it measures."""

from __future__ import annotations

from typing import Any

from support.api import Api

READINGS = {
    "barrel_bore": "8.3 mm",
    "bar_height": "0.8 mm",
    "nipple_diameter": "6.5 mm",
    "barrel_depth": "60 mm",
    "tenon_length": "12 mm",
}
# In a bore of 8.3 mm a strip of 4.5 x 0.6 stands 1.263 mm off the wall, one of 3 x 0.5 0.780 mm.
HIGH = {"width": "4.5 mm", "thickness": "0.6 mm", "length": "80 mm"}
LOW = {"width": "3.0 mm", "thickness": "0.5 mm", "length": "80 mm"}


def stocked(api: Api, kind: str, number: str, measured: dict[str, str], **part: Any) -> int:
    """Put four measured pieces away; return their lot."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": number, "kind": kind, "dimensions": measured} | part)
    lot = {"part": number, "drawer": "A3", "quantity": 4, "measured": measured}
    reply = api.post("/v1/lots", lot)
    assert reply.status == 201, reply.text
    return int(reply.body["id"])


def sac(api: Api, outside: str) -> int:
    """Put sacs of latex away; return their lot."""
    return stocked(api, "sac", f"SAC-{outside}", {"outside_diameter": outside}, material="latex")


def bar(api: Api, number: str, measured: dict[str, str]) -> int:
    """Put J-bars away; return their lot."""
    return stocked(api, "pressure_bar", number, measured)


def job(api: Api, *, with_bar: bool = False) -> tuple[str, dict[str, int]]:
    """Open a lever job; return its number and its needs by kind. With a bar that is required."""
    pen = {"called": "olive", "filling_system": "lever", "materials": ["hard rubber"]}
    number = api.post("/v1/pens", pen | {"readings": READINGS}).body["number"]
    opened = api.post("/v1/jobs", {"pen": number}).body
    needs = {need["kind"]: need["id"] for need in opened["needs"]}
    if with_bar:
        path = f"/v1/jobs/{opened['number']}/needs/{needs['pressure_bar']}"
        assert api.patch(path, {"optional": False}).status == 200
    return opened["number"], needs


def planned(api: Api, number: str) -> dict[str, Any]:
    """Return the plan's needs by kind, and whether it is complete."""
    plan = api.get(f"/v1/jobs/{number}/plan").body
    return {need["kind"]: need for need in plan["needs"]} | {"complete": plan["complete"]}


def test_a_bar_that_is_promised_stands_as_it_measures(api: Api) -> None:
    """With the high bar promised the sac is sized beside it, whatever the old one measured."""
    large, small = sac(api, "6.3 mm"), sac(api, "5.75 mm")
    high = bar(api, "HIGH", HIGH)
    number, _ = job(api)
    before = planned(api, number)["sac"]
    assert before["result"]["bar_height_used"] == 0.8
    assert before["best"][0]["lot"] == large
    assert api.post(f"/v1/jobs/{number}/reservations", {"lot": high}).status == 201
    after = planned(api, number)["sac"]
    assert 1.2 < after["result"]["bar_height_used"] < 1.3
    assert after["best"][0]["lot"] == small
    assert "too wide" in next(each["why"] for each in after["refused"] if each["lot"] == large)
    reply = api.post(f"/v1/jobs/{number}/reservations")
    assert [each["lot"] for each in reply.body["reservations"]] == [small]


def test_a_sac_and_a_bar_that_do_not_go_together_are_a_contradiction(api: Api) -> None:
    """A large sac and a high bar, both named by a person: the plan is not complete and says why."""
    large, high = sac(api, "6.3 mm"), bar(api, "HIGH", HIGH)
    number, _ = job(api)
    for lot in (large, high):
        assert api.post(f"/v1/jobs/{number}/reservations", {"lot": lot}).status == 201
    plan = planned(api, number)
    assert plan["complete"] is False
    assert f"bag {large} is promised" in plan["sac"]["problem"]
    assert "bar height 1.2" in plan["sac"]["problem"]
    assert "too wide" in plan["sac"]["problem"]


def test_bar_and_sac_are_chosen_together(api: Api) -> None:
    """Of two bars the one is taken beside which a sac goes in, though the other comes first."""
    large = sac(api, "6.3 mm")
    high = bar(api, "HIGH", HIGH)
    low = bar(api, "LOW", LOW | {"length": "82 mm"})
    number, _ = job(api, with_bar=True)
    plan = planned(api, number)
    assert (plan["complete"], plan["sac"]["short"]) == (True, 0)
    made = api.post(f"/v1/jobs/{number}/reservations").body["reservations"]
    assert sorted(each["lot"] for each in made) == [large, low]
    assert high not in {each["lot"] for each in made}


def test_where_no_pair_can_be_made_nothing_is_promised(api: Api) -> None:
    """With the high bar alone no sac in hand goes in: the need is short, and says beside what."""
    sac(api, "6.3 mm")
    bar(api, "HIGH", HIGH)
    number, needs = job(api, with_bar=True)
    reply = api.post(f"/v1/jobs/{number}/reservations")
    assert reply.status == 409
    assert (
        f"need {needs['sac']} (sac) lacks 1: nothing in hand goes with bar height 1.2"
        in (reply.body["detail"])
    )
    assert api.get(f"/v1/reservations?job={number}").body["reservations"] == []


def test_a_bar_beside_which_the_promised_sac_does_not_go_is_not_taken(api: Api) -> None:
    """With a large sac promised the high bar is not, and the reason names the sac."""
    large = sac(api, "6.3 mm")
    bar(api, "HIGH", HIGH)
    number, _ = job(api, with_bar=True)
    assert api.post(f"/v1/jobs/{number}/reservations", {"lot": large}).status == 201
    plan = planned(api, number)
    assert (plan["pressure_bar"]["best"], plan["complete"]) == ([], False)
    assert f"bag {large} (sac) does not go with it" in plan["pressure_bar"]["problem"]
    reply = api.post(f"/v1/jobs/{number}/reservations")
    assert reply.status == 409
    assert "does not go with it" in reply.body["detail"]


def test_a_bar_that_need_not_be_replaced_is_shown_beside_the_sac(api: Api) -> None:
    """A bar that is optional never sizes the sac; the plan warns where the two would not go."""
    large, high = sac(api, "6.3 mm"), bar(api, "HIGH", HIGH)
    number, _ = job(api)
    plan = planned(api, number)
    assert plan["sac"]["best"][0]["lot"] == large
    assert any(f"bag {high}" in warning for warning in plan["pressure_bar"]["warnings"])
    made = api.post(f"/v1/jobs/{number}/reservations").body["reservations"]
    assert [each["lot"] for each in made] == [large]
