"""Each shipped system, from the readings of a pen to the closed job, by a table of pens."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from sparewell.extend.host import Declarations
from support.api import ANYWAY, Api
from support.lines_of_pens import Line
from support.pens_of_systems import PENS, Pen

TABLE = {f"{pen.system}, {pen.called}": pen for pen in PENS}


def test_two_different_pens_stand_for_every_system(declared: Declarations) -> None:
    """The table has two pens of each system that the plugin ships, and of no other."""
    assert Counter(pen.system for pen in PENS) == dict.fromkeys(declared.filling_systems, 2)


def lot_of(api: Api, line: Line, place: str, dimensions: Any) -> int:
    """Put enough pieces of these dimensions into a drawer of their own; return the lot."""
    assert api.post("/v1/drawers", {"code": place}).status == 201
    measured = {name: f"{value:.6f} mm" for name, value in dimensions.items()}
    part = {"number": f"P-{place}", "kind": line.kind, "dimensions": measured}
    assert api.post("/v1/parts", part).status == 201
    lot = {"part": f"P-{place}", "drawer": place, "quantity": 4, "measured": measured}
    if line.material:
        lot["material"] = line.material
    made = api.post("/v1/lots", lot)
    assert made.status == 201, made.text
    return int(made.body["id"])


def opened(api: Api, pen: Pen) -> str:
    """Put a pen on the bench and open a job; return the job's number."""
    body = {"called": pen.called, "filling_system": pen.system, "readings": pen.readings}
    made = api.post("/v1/pens", body)
    assert made.status == 201, made.text
    return str(api.post("/v1/jobs", {"pen": made.body["number"]}).body["number"])


def decide(api: Api, job: str, pen: Pen) -> list[int]:
    """Say what was found when the pen was open; return the id of each line's need."""
    needs = [need["id"] for need in api.get(f"/v1/jobs/{job}").body["needs"]]
    for position in pen.dropped:
        why = {"dropped": True, "why": "another seal is in there"}
        assert api.patch(f"/v1/jobs/{job}/needs/{needs[position]}", why).status == 200
    for line in pen.lines:
        found = {"decided": True, "quantity": line.quantity, "optional": False}
        reply = api.patch(f"/v1/jobs/{job}/needs/{needs[line.position]}", found)
        assert (reply.status, reply.body["state"]) == (200, "open"), reply.text
    return [needs[line.position] for line in pen.lines]


def check_recommendation(planned: dict[str, Any], line: Line, right: int) -> None:
    """Hold one need's plan against what was worked out by hand."""
    assert planned["problem"] is None, planned["problem"]
    assert planned["best"] == [{"lot": right, "quantity": line.quantity}], planned["refused"]
    for name, value in line.result.items():
        assert planned["result"][name] == pytest.approx(value, abs=0.0011), name
    margins = next(each for each in planned["candidates"] if each["lot"] == right)["margins"]
    for name, value in line.margins.items():
        assert margins[name] == pytest.approx(value, abs=0.06), name


@pytest.mark.parametrize("pen", TABLE.values(), ids=TABLE)
def test_a_pen_goes_from_its_readings_to_the_closed_job(api: Api, pen: Pen) -> None:
    """Every part is sized as the trade does, found, reserved, fetched, used, and the job ends."""
    lots = []
    for position, line in enumerate(pen.lines):
        if line.decoy is not None:
            lot_of(api, line, f"Z{position}", line.decoy)
        lots.append(lot_of(api, line, f"A{position}", line.right))
    job = opened(api, pen)
    needs = decide(api, job, pen)
    plan = {need["id"]: need for need in api.get(f"/v1/jobs/{job}/plan").body["needs"]}
    for line, need, lot in zip(pen.lines, needs, lots, strict=True):
        if line.decoy is not None:
            check_recommendation(plan[need], line, lot)
            continue
        assert "name the bag" in plan[need]["problem"]
        assert plan[need]["missing"] == []
        named = {"lot": lot, "quantity": line.quantity}
        made = api.post(f"/v1/jobs/{job}/reservations", named)
        assert [each["need"] for each in made.body["reservations"]] == [need]
    if any(line.decoy for line in pen.lines):
        assert api.post(f"/v1/jobs/{job}/reservations").status == 201
    assert api.get(f"/v1/jobs/{job}/plan").body["complete"] is True
    places = api.get(f"/v1/jobs/{job}/fetch-list").body["places"]
    assert [place["place"] for place in places] == [f"A{number}" for number in range(len(lots))]
    for (piece,) in (place["pieces"] for place in places):
        path = f"/v1/reservations/{piece['reservation']}"
        assert api.post(f"{path}/fetch").body["state"] == "in_tray"
        assert api.post(f"{path}/use").body["state"] == "used"
    assert api.get(f"/v1/jobs/{job}/fetch-list").body["places"] == []
    closed = api.post(f"/v1/jobs/{job}/close", ANYWAY)
    assert (closed.status, closed.body["state"]) == (200, "closed")
    states = {need["id"]: need["state"] for need in closed.body["needs"]}
    assert {states[need] for need in needs} == {"met"}
    assert [api.get(f"/v1/lots/{lot}").body["in_hand"] for lot in lots] == [
        4 - line.quantity for line in pen.lines
    ]
