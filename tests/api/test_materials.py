"""Every piece is judged by what the pen is made of, and materials are taken in their order."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import BODY, Api

MEASURED = {"outside_diameter": "5.95 mm", "inside_diameter": "5.05 mm"}


def bag(api: Api, material: str | None, number: str = "", **more: Any) -> int:
    """Put a bag of sacs of a material away; return its lot."""
    api.post("/v1/drawers", {"code": "A3"})
    number = number or f"SAC-{(material or 'none').upper()}"
    part = {"number": number, "kind": "sac", "dimensions": {"outside_diameter": "5.95 mm"}}
    api.post("/v1/parts", part | ({"material": material} if material else {}))
    lot = {"part": number, "drawer": "A3", "quantity": 4, "measured": MEASURED} | more
    reply = api.post("/v1/lots", lot)
    assert reply.status == 201, reply.text
    return int(reply.body["id"])


def job(api: Api, *materials: str, system: str = "lever") -> str:
    """Open a job on a pen of these materials; return its number."""
    readings = BODY if system != "squeeze_bar" else {"guard_bore": "7 mm", "nipple_diameter": "5.7"}
    pen = {"called": "olive", "filling_system": system, "materials": materials}
    number = api.post("/v1/pens", pen | {"readings": readings}).body["number"]
    return str(api.post("/v1/jobs", {"pen": number}).body["number"])


def sac_of_the_plan(api: Api, number: str) -> dict[str, Any]:
    """Return the plan of the job's sac."""
    return next(
        need for need in api.get(f"/v1/jobs/{number}/plan").body["needs"] if need["kind"] == "sac"
    )


@pytest.mark.parametrize("pen", [["celluloid"], ["polystyrene"], ["moulded plastic"], []])
@pytest.mark.parametrize("material", ["pvc", "vinyl", None])
def test_pvc_and_the_unknown_are_kept_out_of_plastic(
    api: Api, pen: list[str], material: str | None
) -> None:
    """PVC, or a sac of which nobody knows, is refused in these pens and in those not known."""
    lot, number = bag(api, material), job(api, *pen)
    need = sac_of_the_plan(api, number)
    assert (need["candidates"], need["best"]) == ([], [])
    (refused,) = [each for each in need["refused"] if each["lot"] == lot]
    assert "plasticiser from soft PVC" in refused["why"]
    if not pen:
        assert "not fully known" in refused["why"]
    reply = api.post(f"/v1/jobs/{number}/reservations")
    assert reply.status == 409
    assert "plasticiser" in reply.body["detail"]


def test_a_pen_that_bears_it_is_offered_pvc_but_never_given_it_unasked(api: Api) -> None:
    """Hard rubber bears PVC; a lever pen takes latex unasked, so PVC is a person's decision."""
    lot, number = bag(api, "pvc"), job(api, "hard rubber")
    need = sac_of_the_plan(api, number)
    (candidate,) = need["candidates"]
    assert "a person decides" in candidate["why"]
    assert (need["best"], need["short"]) == ([], 1)
    assert api.post(f"/v1/jobs/{number}/reservations").status == 409
    named = api.post(f"/v1/jobs/{number}/reservations", {"lot": lot})
    assert named.status == 201


def test_latex_in_celluloid_is_said_and_taken(api: Api) -> None:
    """Latex is taken for a celluloid pen, with the risk to a pale one said."""
    lot, number = bag(api, "latex"), job(api, "celluloid")
    need = sac_of_the_plan(api, number)
    assert [each["lot"] for each in need["best"]] == [lot]
    assert "latex may darken it" in need["candidates"][0]["why"]


def test_the_material_s_order_goes_before_size_and_age(api: Api) -> None:
    """A squeeze-bar filler of metal takes vinyl first, latex when there is none, silicone never."""
    measured = {"outside_diameter": "5.95 mm", "inside_diameter": "5.05 mm"}
    silicone = bag(api, "silicone", measured=measured)
    latex = bag(api, "latex", measured=measured, made_on="2025-01-01")
    number = job(api, "metal", system="squeeze_bar")
    assert [each["lot"] for each in sac_of_the_plan(api, number)["best"]] == [latex]
    pvc = bag(api, "pvc", measured=measured | {"outside_diameter": "5.75 mm"})
    need = sac_of_the_plan(api, number)
    assert [each["lot"] for each in need["best"]] == [pvc]
    listed = [each["lot"] for each in need["candidates"]]
    assert listed[:2] == [pvc, latex]
    assert silicone not in listed[:2]


def test_a_fit_takes_what_the_pen_is_made_of(api: Api) -> None:
    """`pen_materials`, or a body's name among `materials`, judges; a sac's own name still picks."""
    pvc, latex = bag(api, "pvc"), bag(api, "latex")

    def lots(**more: Any) -> list[int]:
        reply = api.post("/v1/fits/sac", BODY | more)
        assert reply.status == 200, reply.text
        return [each["lot"] for each in reply.body["candidates"]]

    assert lots(pen_materials=["celluloid"]) == [latex]
    assert lots(materials=["celluloid"]) == [latex]
    assert sorted(lots(pen_materials=["hard rubber"])) == [pvc, latex]
    assert lots(pen_materials=["hard rubber"], materials=["pvc"]) == [pvc]
    assert lots() == [latex]


def test_what_comes_after_a_ruined_sac_is_judged_too(api: Api) -> None:
    """After a ruined latex sac a bag of PVC is not offered to a celluloid pen."""
    bag(api, "latex", quantity=1)
    bag(api, "pvc")
    number = job(api, "celluloid")
    (held,) = api.post(f"/v1/jobs/{number}/reservations").body["reservations"]
    spoiled = api.post(f"/v1/reservations/{held['id']}/spoil").body
    assert spoiled["next"]["pieces"] == []


def test_cautions_are_those_of_the_pieces_promised(api: Api) -> None:
    """With silicone promised nothing is said of latex, before and after, in plan and job."""
    bag(api, "latex")
    silicone, number = bag(api, "silicone"), job(api, "hard rubber")
    said = " ".join(each["caution"] for each in api.get(f"/v1/jobs/{number}/plan").body["cautions"])
    assert "Latex can cause allergy" in said
    assert api.post(f"/v1/jobs/{number}/reservations", {"lot": silicone}).status == 201
    said = " ".join(each["caution"] for each in api.get(f"/v1/jobs/{number}/plan").body["cautions"])
    assert "Latex can cause allergy" not in said
    steps = api.get(f"/v1/jobs/{number}").body["steps"]
    assert not any("Latex can" in caution for step in steps for caution in step["cautions"])


def test_templates_show_and_take_an_order_of_materials(api: Api) -> None:
    """A lever filler takes latex, a squeeze-bar vinyl, else latex; an own system what it says."""
    lever = api.get("/v1/filling-systems/lever").body
    assert lever["needs"][0]["materials"] == ["latex"]
    squeeze = api.get("/v1/filling-systems/squeeze_bar").body
    assert squeeze["needs"][0]["materials"] == ["pvc", "latex"]
    own = {"name": "mine", "title": "mine", "readings": [], "consumables": [], "steps": []}
    need = {"kind": "sac", "seals_where": "nipple", "calculator": "sac", "materials": ["silicone"]}
    made = api.post("/v1/filling-systems", own | {"needs": [need]})
    assert made.status == 201, made.text
    assert made.body["needs"][0]["materials"] == ["silicone"]
    for materials, words in ((["cork"], "no material of"), (["latex", "latex"], "twice")):
        needs = [need | {"materials": materials}]
        wrong = api.post("/v1/filling-systems", own | {"name": "other", "needs": needs})
        assert wrong.status == 422
        assert words in wrong.text
        assert wrong.body["errors"][0]["pointer"].startswith("/needs/0/materials")


def test_the_order_of_one_need_can_be_changed(api: Api) -> None:
    """A person may let a job take silicone: the need's order is changed like its other members."""
    bag(api, "silicone", measured={"outside_diameter": "6.15 mm", "inside_diameter": "5.4 mm"})
    number = job(api, "celluloid")
    need = api.get(f"/v1/jobs/{number}").body["needs"][0]
    assert need["materials"] == ["latex"]
    assert sac_of_the_plan(api, number)["best"] == []
    path = f"/v1/jobs/{number}/needs/{need['id']}"
    assert api.patch(path, {"materials": ["silicone", "latex"]}).status == 200
    assert len(sac_of_the_plan(api, number)["best"]) == 1
    assert api.patch(path, {"materials": ["cork"]}).status == 422
