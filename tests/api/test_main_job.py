"""The main job over HTTP, from the reading to the used part, in the contract's own words."""

from __future__ import annotations

import pytest

from support.api import ANYWAY, BODY, Api

pytestmark = pytest.mark.differs


def test_sample_pen_goes_from_reading_to_used_part(api: Api) -> None:
    """The contract's sample runs through, and stock and ledger tell the truth at each step."""
    lot = api.stock(material="latex", made_on="2026-03-01", cost="8.50")
    assert lot["in_hand"] == lot["available"] == 10
    assert lot["promised"] == 0
    assert lot["measured"] == {"outside_diameter": 5.9}
    assert lot["basis"]["outside_diameter"] == "measured"
    assert lot["basis"]["inside_diameter"] == "nominal"
    assert lot["fit_by"] == "2031-03-01"

    sized = api.post("/v1/calculators/sac", BODY)
    assert sized.status == 200
    result = sized.body["result"]
    assert (result["barrel_limit"], result["nipple_limit"]) == (15.62, 16.13)
    assert (result["size"], result["half_size"]) == (15, 15.5)
    assert (result["limited_by"], result["outcome"]) == ("barrel", "agree")
    assert result["cut_length"] is None
    assert sized.body["drawing"].startswith("<svg")

    fit = api.post("/v1/fits/sac", BODY)
    candidate = fit.body["candidates"][0]
    assert (candidate["lot"], candidate["verdict"], candidate["basis"]) == (
        lot["id"],
        "fits",
        "measured",
    )

    job = api.job()
    plan = api.get(f"/v1/jobs/{job}/plan").body
    assert plan["complete"] is True
    assert plan["needs"][0]["best"] == [{"lot": lot["id"], "quantity": 1}]
    assert plan["needs"][0]["short"] == 0

    made = api.post(f"/v1/jobs/{job}/reservations")
    assert made.status == 201
    reservation = made.body["reservations"][0]
    assert reservation["state"] == "held"
    assert reservation["expires_at"] is None
    assert api.get(f"/v1/lots/{lot['id']}").body["available"] == 9

    assert api.post(f"/v1/reservations/{reservation['id']}/fetch").body["state"] == "in_tray"
    used = api.post(f"/v1/reservations/{reservation['id']}/use", {"quantity": 1, "note": "glued"})
    assert (used.status, used.body["state"]) == (200, "used")
    after = api.get(f"/v1/lots/{lot['id']}").body
    assert (after["in_hand"], after["promised"], after["available"]) == (9, 0, 9)
    assert after["cost"] == "7.65"

    verbs = [line["verb"] for line in api.get(f"/v1/movements?lot={lot['id']}").body["movements"]]
    assert verbs == ["arrived", "moved", "fitted"]
    assert api.get(f"/v1/jobs/{job}").body["needs"][0]["state"] == "met"
    closed = api.post(f"/v1/jobs/{job}/close", ANYWAY)
    assert (closed.status, closed.body["state"]) == (200, "closed")


def test_range_search_takes_any_spelling_of_a_length(api: Api) -> None:
    """Lots are found by ranges in mixed units, by what is left and by where they lie."""
    lot = api.stock()
    api.post("/v1/drawers", {"code": "B1"})
    query = (
        "/v1/lots?kind=sac&outside_diameter_min=6mm&outside_diameter_max=0.25in"
        "&available_min=1&place=A3"
    )
    assert api.get(query).body["lots"] == []
    found = api.get(query.replace("min=6mm", "min=14/64%20in")).body["lots"]
    assert [each["id"] for each in found] == [lot["id"]]
    assert api.get("/v1/lots?kind=sac&place=B1").body["lots"] == []
    assert api.get("/v1/lots?available_min=11").body["lots"] == []
    refused = api.get("/v1/lots?outside_diameter_min=6 furlongs")
    assert refused.status == 422
    assert refused.body["errors"][0]["parameter"] == "outside_diameter_min"


def test_number_without_unit_is_millimetres(api: Api) -> None:
    """A JSON number and a bare text are millimetres, and both give the same lot."""
    lot = api.stock(measured={"outside_diameter": 5.9, "length": "60"})
    assert lot["measured"] == {"outside_diameter": 5.9, "length": 60.0}
    assert lot["measured_as_entered"] == {"outside_diameter": "5.9", "length": "60"}


def test_nominal_basis_earns_at_best_a_try_in(api: Api) -> None:
    """A lot that was never measured is offered to be tried in, not as fitting."""
    lot = api.stock(measured={})
    candidate = api.post("/v1/fits/sac", BODY).body["candidates"][0]
    assert (candidate["lot"], candidate["basis"], candidate["verdict"]) == (
        lot["id"],
        "nominal",
        "try_in",
    )


def test_measured_bags_of_one_label_are_judged_apart(api: Api) -> None:
    """Of two bags labelled 16, the one that measures 6.10 mm goes in and the 6.55 is refused."""
    small = api.stock(measured={"outside_diameter": "6.10 mm", "inside_diameter": "5.3 mm"})
    large = api.stock(measured={"outside_diameter": "6.55 mm", "inside_diameter": "5.7 mm"})
    fit = api.post("/v1/fits/sac", BODY).body
    assert [each["lot"] for each in fit["candidates"]] == [small["id"]]
    refused = {each["lot"]: each["why"] for each in fit["refused"]}
    assert "barrel" in refused[large["id"]]


def test_fully_promised_lot_is_refused_with_the_job_that_has_it(api: Api) -> None:
    """When the last piece is promised, the next fit names the job that holds it."""
    lot = api.stock(quantity=1)
    first = api.job()
    assert api.post(f"/v1/jobs/{first}/reservations").status == 201
    fit = api.post("/v1/fits/sac", BODY).body
    assert fit["candidates"] == []
    assert fit["refused"][0]["lot"] == lot["id"]
    assert fit["refused"][0]["job"] == first
    assert fit["to_buy"], "with nothing in hand the fit says what to ask for"
    second = api.job()
    short = api.post(f"/v1/jobs/{second}/reservations")
    assert short.status == 409
    assert short.body["errors"][0]["need"]
    assert first in short.body["detail"]


def test_oldest_rubber_still_in_date_goes_first_and_over_age_is_refused(api: Api) -> None:
    """Among equals the older lot is offered first; one past its date is refused as over age."""
    young = api.stock(made_on="2026-01-15")
    old = api.stock(made_on="2023")
    dead = api.stock(made_on="2019-Q4")
    fit = api.post("/v1/fits/sac", BODY).body
    assert [each["lot"] for each in fit["candidates"]] == [old["id"], young["id"]]
    assert {each["lot"] for each in fit["refused"]} == {dead["id"]}
    assert "over age" in fit["refused"][0]["why"]


def test_all_or_nothing_over_several_needs(api: Api) -> None:
    """A job whose second need is short reserves nothing, and says which need is short."""
    lot = api.stock()
    pen = {
        "called": "pneumatic filler",
        "filling_system": "pneumatic",
        "readings": {"guard_bore": "7.4 mm", "nipple_diameter": "6.2 mm"},
    }
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    plan = api.get(f"/v1/jobs/{job}/plan").body
    assert [need["short"] for need in plan["needs"]] == [0, 1], plan["needs"][0]["problem"]
    refused = api.post(f"/v1/jobs/{job}/reservations")
    assert refused.status == 409
    assert [error["kind"] for error in refused.body["errors"]] == ["o_ring"]
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 0


def test_named_lot_covers_its_need_first_and_the_rest_is_extra(api: Api) -> None:
    """Two pieces of a named lot are one reservation: one covers the need, one is extra."""
    lot = api.stock()
    job = api.job()
    made = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot["id"], "quantity": 2})
    assert made.status == 201
    (reservation,) = made.body["reservations"]
    assert (reservation["quantity"], reservation["need"]) == (2, 1)
    assert reservation["verdict"] == "fits"
    spoiled = api.post(f"/v1/reservations/{reservation['id']}/spoil", {"quantity": 1})
    assert spoiled.body["state"] == "held"
    assert api.get(f"/v1/jobs/{job}").body["needs"][0]["state"] == "promised"
    api.post(f"/v1/reservations/{reservation['id']}/spoil")
    assert api.get(f"/v1/jobs/{job}").body["needs"][0]["state"] == "open"


def test_missing_reading_is_named_in_the_plan(api: Api) -> None:
    """A pen without its nipple diameter gets a plan that says which reading is missing."""
    api.stock()
    pen = {"called": "unread", "filling_system": "lever", "readings": {"barrel_bore": 8}}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    need = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    assert need["missing"] == ["nipple_diameter"]
    assert need["short"] == 1
    api.post(f"/v1/pens/{number}/readings", {"readings": {"nipple_diameter": "6.4 mm"}})
    assert api.get(f"/v1/jobs/{job}/plan").body["needs"][0]["short"] == 0


def test_cancel_releases_everything(api: Api) -> None:
    """A cancelled job gives its pieces back, and nothing more can be done on it."""
    lot = api.stock()
    job = api.job()
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"][0]
    api.post(f"/v1/reservations/{made['id']}/fetch")
    assert api.post(f"/v1/jobs/{job}/cancel").body["state"] == "cancelled"
    assert api.get(f"/v1/lots/{lot['id']}").body["available"] == 10
    assert api.get(f"/v1/reservations/{made['id']}").body["state"] == "released"
    for path in ("reservations", "close", "cancel"):
        assert api.post(f"/v1/jobs/{job}/{path}").status == 409


def test_close_is_refused_while_pieces_are_promised(api: Api) -> None:
    """A job with a promised piece cannot be closed, and the refusal names the reservation."""
    api.stock()
    job = api.job()
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"][0]
    refused = api.post(f"/v1/jobs/{job}/close", ANYWAY)
    assert refused.status == 409
    assert refused.body["errors"][0]["reservation"] == made["id"]


@pytest.mark.parametrize("end", ["use", "release", "spoil"])
def test_each_piece_ends_once(api: Api, end: str) -> None:
    """After its end, any other verb on a reservation is refused with 409."""
    api.stock()
    job = api.job()
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"][0]
    path = f"/v1/reservations/{made['id']}"
    assert api.post(f"{path}/{end}").status == 200
    for verb in ("fetch", "use", "release", "spoil"):
        assert api.post(f"{path}/{verb}").status == 409
    assert api.post(f"{path}/use", {"quantity": 1}).status == 409


def test_size_goes_before_age_and_shape_is_kept_for_those_who_need_it(api: Api) -> None:
    """An older but much smaller sac, and a necked one, come after a fitting plain one."""
    inside = {"inside_diameter": "5.3 mm"}
    necked = api.stock(made_on="2023", measured={"outside_diameter": "6.1", "neck_diameter": "6.0"})
    small = api.stock(made_on="2023", measured={"outside_diameter": "5.7 mm"} | inside)
    right = api.stock(made_on="2026", measured={"outside_diameter": "6.1 mm"} | inside)
    fit = api.post("/v1/fits/sac", BODY).body
    assert [each["lot"] for each in fit["candidates"]] == [right["id"], small["id"], necked["id"]]
    assert "keep it" in fit["candidates"][2]["why"]


def test_covered_need_is_silent_about_its_own_hold(api: Api) -> None:
    """The plan of a job that holds the last piece neither refuses it nor asks to buy another."""
    api.stock(quantity=1)
    job = api.job()
    api.post(f"/v1/jobs/{job}/reservations")
    need = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    assert (need["state"], need["short"], need["refused"], need["to_buy"]) == (
        "promised",
        0,
        [],
        [],
    )


def test_materials_and_limit_narrow_the_choice(api: Api) -> None:
    """Only pieces of the wanted materials are offered, and no more than asked for."""
    latex = api.stock(material="latex")
    api.stock(material="pvc")
    fit = api.post("/v1/fits/sac", BODY | {"materials": ["Latex"]}).body
    assert [each["lot"] for each in fit["candidates"]] == [latex["id"]]
    assert any("latex is wanted" in each["why"] for each in fit["refused"])
    api.stock(material="latex")
    assert len(api.post("/v1/fits/sac", BODY | {"limit": 1}).body["candidates"]) == 1


def test_two_calculators_size_one_job(api: Api) -> None:
    """A pneumatic filler gets its sac and its tail ring in one plan, and both are reserved."""
    sac = api.stock()
    ring = {"inside_diameter": "6.07 mm", "cross_section": "1.78 mm"}
    api.post("/v1/parts", {"number": "R", "kind": "o_ring", "dimensions": ring, "material": "nbr"})
    lot = {"part": "R", "drawer": "A3", "quantity": 5, "measured": ring}
    tail = api.post("/v1/lots", lot).body["id"]
    readings = {
        "guard_bore": "7.4 mm",
        "nipple_diameter": "6.2 mm",
        "rod": {"value": "6.2 mm", "instrument": "micrometer", "spread": "0.01 mm"},
        "bore": {"value": "9.4 mm", "instrument": "plug gauge", "spread": "0.01 mm"},
    }
    pen = {"called": "pneumatic filler", "filling_system": "pneumatic", "readings": readings}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    plan = api.get(f"/v1/jobs/{job}/plan").body
    assert plan["complete"] is True, plan["needs"][1]
    made = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    assert {each["lot"] for each in made} == {sac["id"], tail}
