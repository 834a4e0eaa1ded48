"""What a plan says of a need beside its pieces: the answer in short, prices, orders, readings."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest

from support.api import BODY, Api
from support.pens_of_systems import PENS
from support.plunger import PACKING, VACUUM, gaskets

# Of the sample pen: what the tail leaves of the depth, and the hole of a 15 with an ordinary wall.
ROOM, HOLE = 62 - 3, 15 * 25.4 / 64 - 0.9


def planned(api: Api, body: dict[str, Any], *, decided: bool = False) -> list[dict[str, Any]]:
    """Return the needs of the plan of a new job on a new pen."""
    pen = api.post("/v1/pens", body)
    assert pen.status == 201, pen.text
    job = api.post("/v1/jobs", {"pen": pen.body["number"]}).body
    for need in job["needs"]:
        if decided and need["state"] == "undecided":
            path = f"/v1/jobs/{job['number']}/needs/{need['id']}"
            assert api.patch(path, {"decided": True}).status == 200
    return list(api.get(f"/v1/jobs/{job['number']}/plan").body["needs"])


def lever(**readings: Any) -> dict[str, Any]:
    """Return the sample pen with other readings; None leaves one out."""
    kept = {name: value for name, value in (BODY | readings).items() if value is not None}
    return {"called": "olive", "filling_system": "lever", "readings": kept}


def test_every_system_s_plan_says_what_to_look_for_and_to_order(api: Api) -> None:
    """With empty drawers each need that can be worked out has its answer and a line to order."""
    for pen in PENS:
        body = {"called": pen.called, "filling_system": pen.system, "readings": pen.readings}
        needs = planned(api, body, decided=True)
        for line in pen.lines:
            need = needs[line.position]
            assert need["recommendation"]["look_for"], need
            (order,) = need["to_order"]
            assert (order["kind"], order["quantity"]) == (line.kind, need["short"])
            assert need["short"] > 0
            assert order["ask_for"], need
            assert order["check_on_arrival"], need
        for need in needs:
            assert need["recommendation"] or need["problem"], need
            assert set(need["missing"]) <= {each["name"] for each in need["would_decide"]}


def test_the_answer_in_short_is_the_calculator_s(api: Api) -> None:
    """What limits it and its outcome are those of the full result, and the words name its sizes."""
    (need, *_) = planned(api, lever())
    told = need["recommendation"]
    assert (told["limited_by"], told["outcome"]) == ("barrel", "agree")
    assert "15½ (or 15)" in told["look_for"]
    (doubtful, *_) = planned(api, lever(barrel_bore="7.0 mm", nipple_diameter="6.5 mm"))
    assert doubtful["recommendation"]["outcome"] == "check_barrel"
    assert "Is old sac still stuck" in doubtful["recommendation"]["look_for"]
    assert doubtful["to_order"] == []


def test_a_second_choice_has_its_price(api: Api) -> None:
    """A smaller bag costs ink, computed here from its hole; a silicone one has no age."""
    api.stock(measured={"outside_diameter": "6.1 mm", "inside_diameter": "5.3 mm"}, made_on="2025")
    small = {"outside_diameter": "5.5 mm", "inside_diameter": "4.9 mm"}
    less = api.stock(measured=small, material="latex", made_on="2022-01-01")["id"]
    ageless = api.stock(measured=small, material="silicone")["id"]
    (need, *_) = planned(api, lever())
    by_lot = {each["lot"]: each for each in need["substitutes"]}
    assert need["best"][0]["lot"] not in by_lot
    share = (4.9 / HOLE) ** 2
    for lot in (less, ageless):
        price = by_lot[lot]
        assert price["capacity_less_percent"] == round(100 * (1 - share))
        lost = pi / 4 * HOLE**2 * ROOM / 1000 * (1 - share)
        assert price["capacity_less_ml"] == pytest.approx(lost, abs=0.006)
        assert price["stretch_percent"] == pytest.approx(100 * (6.4 / 4.9 - 1), abs=0.06)
        assert price["over_age"] is False
    assert (by_lot[less]["fit_by"], by_lot[less]["months_left"]) == ("2027-01-01", 1)
    assert (by_lot[ageless]["fit_by"], by_lot[ageless]["months_left"]) == (None, None)
    assert by_lot[ageless]["verdict"] == "tight"


def test_an_over_age_bag_is_a_substitute_and_never_taken(api: Api) -> None:
    """What would fit but for its age stands among the substitutes, marked, with the need short."""
    dead = api.stock(material="latex", made_on="2019")["id"]
    wide = {"outside_diameter": "7.5 mm", "inside_diameter": "6.6 mm"}
    api.stock(measured=wide, material="latex", made_on="2019")
    (need, *_) = planned(api, lever())
    in_hand = [each for each in need["substitutes"] if each["lot"] is not None]
    assert [(each["lot"], each["over_age"], each["months_left"]) for each in in_hand] == [
        (dead, True, 0)
    ]
    assert "over age" in in_hand[0]["why"]
    assert (need["best"], need["short"], need["to_order"][0]["quantity"]) == ([], 1, 1)


def test_sizes_that_would_do_as_well_have_their_price(api: Api) -> None:
    """The calculator's own substitutes and other ways stand without a lot, with stretch and ink."""
    (need, *_) = planned(api, lever())
    named = {each["what"]: each for each in need["substitutes"]}
    result = need["result"]
    for size in result["substitutes"]:
        text = f"sac no. {size['size']:g}".replace(".5", "½")
        assert named[text]["stretch_percent"] == size["stretch_percent"]
        assert named[text]["lot"] is None
    assert named["sac no. 14½"]["capacity_less_percent"] > 0
    (wide, *_) = planned(api, lever(barrel_bore="10.2 mm", nipple_diameter="7.0 mm"))
    ways = [each["what"] for each in wide["substitutes"]]
    assert any("necked" in way for way in ways)
    assert any("ring on the nipple" in way for way in ways)


def test_a_need_partly_in_hand_orders_the_rest(api: Api) -> None:
    """With one packing of three in the drawer two are ordered, and the one is still the best."""
    lot = gaskets(api, "PACK", PACKING, 1, "A3")
    pen = api.post("/v1/pens", VACUUM).body["number"]
    job = api.post("/v1/jobs", {"pen": pen}).body
    need = job["needs"][1]["id"]
    api.patch(f"/v1/jobs/{job['number']}/needs/{need}", {"decided": True, "quantity": 3})
    found = api.get(f"/v1/jobs/{job['number']}/plan").body["needs"][1]
    assert (found["best"], found["short"]) == ([{"lot": lot, "quantity": 1}], 2)
    assert [each["quantity"] for each in found["to_order"]] == [2]
    assert found["to_buy"][0]["ask_for"] == found["to_order"][0]["ask_for"]


def test_readings_stand_in_the_order_of_what_they_settle(api: Api) -> None:
    """Without the nipple nothing can be said; then a bar that was not measured decides the bag."""
    lot = api.stock(measured={"outside_diameter": "6.1 mm", "inside_diameter": "5.3 mm"})["id"]
    (need, *_) = planned(api, lever(nipple_diameter=None))
    assert [(each["name"], each["settles"]) for each in need["would_decide"]] == [
        ("nipple_diameter", "anything")
    ]
    assert need["recommendation"] is None
    (need, *_) = planned(api, lever(bar_height=None))
    first = need["would_decide"][0]
    assert (first["name"], first["settles"], first["taken"]) == ("bar_height", "piece", False)
    assert f"at 1.5 mm bag {lot} would be refused" in first["why"]
    assert first["instrument"], "and how it is taken"
    assert [each["name"] for each in need["would_decide"]].count("bar_height") == 1


def test_a_reading_that_is_not_sure_enough_is_to_be_taken_again(api: Api) -> None:
    """A bore whose spread would refuse the bag decides; one read closely enough is silent."""
    lot = api.stock(measured={"outside_diameter": "6.05 mm", "inside_diameter": "5.3 mm"})["id"]
    loose = {"value": "8.0 mm", "instrument": "inside jaws", "spread": "0.2 mm"}
    (need, *_) = planned(api, lever(barrel_bore=loose))
    told = {each["name"]: each for each in need["would_decide"]}
    assert (told["barrel_bore"]["settles"], told["barrel_bore"]["taken"]) == ("piece", True)
    assert f"at 7.8 mm bag {lot} would be refused" in told["barrel_bore"]["why"]
    close = loose | {"instrument": "plug gauge", "spread": "0.01 mm"}
    (need, *_) = planned(api, lever(barrel_bore=close))
    assert "barrel_bore" not in [each["name"] for each in need["would_decide"]]


def test_a_need_without_a_calculator_shows_the_nearest_pieces(api: Api) -> None:
    """A person is told what to look for and what lies nearest; nothing is ordered that is there."""
    pen = {"called": "school pen", "filling_system": "converter", "readings": {"nozzle": "2.5 mm"}}
    (need,) = planned(api, pen)
    assert need["recommendation"]["look_for"].endswith("inside diameter for nozzle of 2.5 mm")
    assert [each["quantity"] for each in need["to_order"]] == [1]
    api.post("/v1/drawers", {"code": "A3"})
    lots = []
    for number, inside in (("WIDE", "3.4 mm"), ("NEAR", "2.4 mm")):
        part = {"number": number, "kind": "converter_seal"}
        part["dimensions"] = {"inside_diameter": inside}  # type: ignore[assignment]
        assert api.post("/v1/parts", part).status == 201
        lot = {"part": number, "drawer": "A3", "quantity": 1}
        lots.append(api.post("/v1/lots", lot).body["id"])
    (need,) = planned(api, pen)
    assert [each["lot"] for each in need["substitutes"]] == lots[::-1]
    assert "2.4 mm" in need["substitutes"][0]["why"]
    assert need["substitutes"][0]["verdict"] is None
    assert (need["to_order"], need["best"], need["short"]) == ([], [], 1)
    assert "name the bag" in need["problem"]


def test_a_need_that_is_not_wanted_says_nothing_more(api: Api) -> None:
    """What waits for the open pen is neither recommended nor ordered."""
    needs = planned(api, VACUUM)
    waiting = [need for need in needs if need["state"] == "undecided"]
    assert waiting
    for need in waiting:
        assert need["recommendation"] is None
        assert need["substitutes"] == need["to_order"] == need["would_decide"] == []
        assert "decided when the pen is open" in need["problem"]
