"""A pen's history over HTTP: all that happened, what is in it now, and what pens like it took."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from support.api import ANYWAY, BODY, Api


def new_pen(api: Api, *, system: str = "lever", model: str = "", **readings: Any) -> str:
    """Put a pen of a model on the bench, with the sample readings but for those given."""
    merged = {name: value for name, value in (BODY | readings).items() if value is not None}
    pen = {"called": "a pen", "filling_system": system, "model_note": model, "readings": merged}
    reply = api.post("/v1/pens", pen)
    assert reply.status == 201, reply.text
    return str(reply.body["number"])


def fit(api: Api, pen: str, lot: int, outcome: str | None = None) -> str:
    """Repair a pen with one piece of a lot; return the job."""
    job = str(api.post("/v1/jobs", {"pen": pen}).body["number"])
    made = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "override": "tried in"})
    reservation = made.body["reservations"][0]["id"]
    api.post(f"/v1/reservations/{reservation}/use", {})
    told = [{"reservation": reservation, "outcome": outcome}] if outcome else []
    closed = api.post(f"/v1/jobs/{job}/close", {"outcomes": told, "glue": "shellac"} | ANYWAY)
    assert closed.status == 200, closed.text
    return job


def sizes(api: Api, pen: str) -> list[str]:
    """Return what is said of pens like this one."""
    return [each["sentence"] for each in api.get(f"/v1/pens/{pen}/alike").body["alike"]]


def test_pens_like_this_are_counted_by_size(api: Api) -> None:
    """The pens of one model are counted by the size they took, with what came of it."""
    sixteen, fifteen = api.stock(label="16"), api.stock(label="15", part="SAC-15-STR")
    part = {"number": "SAC-16", "kind": "sac", "dimensions": {"outside_diameter": "16/64 in"}}
    assert api.post("/v1/parts", part).status == 201
    sixteen = api.stock(part="SAC-16", label="16", measured={})
    pens = [new_pen(api, model="Olive  Long") for _ in range(5)]
    jobs = [
        fit(api, pen, sixteen["id"], outcome)
        for pen, outcome in zip(pens, ["good", "good", "leaked"], strict=False)
    ]
    fit(api, pens[3], fifteen["id"])
    asked = new_pen(api, model="olive long", barrel_bore="9.9 mm")
    body = api.get(f"/v1/pens/{asked}/alike").body
    assert [each["sentence"] for each in body["alike"]] == [
        "3 pens like this took a 16; one leaked",
        "1 pen like this took a 15",
    ]
    first, second = body["alike"]
    counts = {"good": 2, "tight": 0, "loose": 0, "leaked": 1, "not_said": 0, "pens": 3}
    assert {name: first[name] for name in counts} == counts
    assert (first["kind"], first["size"], first["jobs"]) == ("sac", "16", jobs)
    assert (second["not_said"], second["good"]) == (1, 0)
    assert {each["name"] for each in body["settings"]} == {"alike.readings", "alike.tolerance"}
    assert {each["source"] for each in body["settings"]} == {"common practice, no source"}
    page = api.get(f"/v1/pens/{asked}/alike?limit=1").body
    assert api.get(page["next"]).body["alike"] == [second]
    job = api.post("/v1/jobs", {"pen": asked}).body["number"]
    needs = {need["kind"]: need for need in api.get(f"/v1/jobs/{job}/plan").body["needs"]}
    assert needs["sac"]["alike"] == body["alike"]
    assert needs["pressure_bar"]["alike"] == []


@pytest.mark.parametrize(
    ("other", "is_like"),
    [
        ({}, True),
        ({"barrel_bore": "8.3 mm", "nipple_diameter": "6.1 mm"}, True),
        ({"barrel_bore": "8.301 mm"}, False),
        ({"nipple_diameter": "6.099 mm"}, False),
        ({"barrel_depth": "40 mm"}, True),
        ({"nipple_diameter": None}, False),
        ({"system": "button"}, False),
        ({"model": "a long one"}, True),
        ({"model": "  A  LONG one ", "barrel_bore": "12 mm"}, True),
        ({"model": "a long one", "system": "button"}, False),
        ({"model": "a short one", "barrel_bore": "12 mm"}, False),
    ],
)
def test_likeness_is_of_system_and_of_model_or_leading_readings(
    api: Api, other: dict[str, Any], *, is_like: bool
) -> None:
    """The tolerance is a setting, its edge is alike, and capitals and spaces do not matter."""
    lot = api.stock(label="15")["id"]
    asked = new_pen(api, model="A long one")
    fit(api, new_pen(api, **other), lot, "tight")
    sentence = "1 pen like this took a 15; one turned out tight"
    assert sizes(api, asked) == ([sentence] if is_like else [])


def test_likeness_goes_by_present_readings_and_the_present_tolerance(api: Api) -> None:
    """A corrected reading makes no likeness, and a wider tolerance makes more of it."""
    lot = api.stock(label="15")["id"]
    asked, other = new_pen(api), new_pen(api)
    fit(api, other, lot)
    wrong = api.get(f"/v1/pens/{other}").body["readings"]["barrel_bore"]["id"]
    body = {"readings": {"barrel_bore": "8.4 mm"}, "corrects": wrong, "why": "misread"}
    assert sizes(api, asked) == ["1 pen like this took a 15"]
    api.post(f"/v1/pens/{other}/readings", body)
    assert sizes(api, asked) == []
    api.patch("/v1/settings/alike.tolerance", {"value": "0.4 mm", "why": "worn reamers"})
    assert sizes(api, asked) == ["1 pen like this took a 15"]


def test_the_latest_outcome_is_the_one_that_is_counted(api: Api) -> None:
    """A job that was good and leaked later counts as leaked, once."""
    lot = api.stock(label="15")["id"]
    asked, other = new_pen(api), new_pen(api)
    fit(api, other, lot, "good")
    assert sizes(api, asked) == ["1 pen like this took a 15"]
    api.post("/v1/reservations/1/outcomes", {"outcome": "leaked"})
    assert sizes(api, asked) == ["1 pen like this took a 15; one leaked"]
    assert sizes(api, other) == [], "a pen is not like itself"


def test_a_job_counts_once_for_a_size_with_the_worst_that_is_said_of_it(api: Api) -> None:
    """Of two sacs of one size in one job, the one that leaked is the one that is counted."""
    lot = api.stock(label="15")["id"]
    asked, other = new_pen(api), new_pen(api)
    job = api.post("/v1/jobs", {"pen": other}).body["number"]
    told = []
    for outcome in ("leaked", "tight"):
        body = {"lot": lot, "quantity": 1}
        made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]["id"]
        api.post(f"/v1/reservations/{made}/use", {})
        told.append({"reservation": made, "outcome": outcome})
    assert api.post(f"/v1/jobs/{job}/close", {"outcomes": told} | ANYWAY).status == 200
    assert sizes(api, asked) == ["1 pen like this took a 15; one leaked"]
    (counted,) = api.get(f"/v1/pens/{asked}/alike").body["alike"]
    assert (counted["leaked"], counted["tight"], counted["jobs"]) == (1, 0, [job])


def test_history_tells_everything_in_order(api: Api, clock: Clock) -> None:
    """From its coming to a late leak, each thing stands with who did it, and none is lost."""
    lot = api.stock(label="16", cost="8.50")["id"]
    pen = new_pen(api)
    job = api.post("/v1/jobs", {"pen": pen, "approval": {"state": "approved", "by": "Bo"}}).body
    path = f"/v1/jobs/{job['number']}"

    def later(method: str, address: str, body: dict[str, Any]) -> Any:
        clock.now += timedelta(minutes=10)
        reply = api.call(method, address, body, Sparewell_Person="Ana")
        assert reply.status in {200, 201}, reply.text
        return reply.body

    wrong = api.get(f"/v1/pens/{pen}").body["readings"]["barrel_bore"]["id"]
    later("POST", f"{path}/steps/1/done", {})
    later("POST", f"{path}/steps/1/undone", {"note": "stuck"})
    body = {"readings": {"barrel_bore": "8.1 mm"}, "corrects": wrong, "why": "misread"}
    later("POST", f"/v1/pens/{pen}/readings", body)
    promise = later("POST", f"{path}/reservations", {"lot": lot, "quantity": 2})["reservations"][0]
    at = f"/v1/reservations/{promise['id']}"
    later("POST", f"{at}/fetch", {})
    later("POST", f"{at}/spoil", {"quantity": 1, "note": "tore"})
    later("POST", f"{at}/use", {"note": "glued"})
    timer = later("POST", f"{path}/timers", {"what": "shellac", "minutes": 45})
    later("POST", f"/v1/timers/{timer['id']}/done", {})
    outcome = {"reservation": promise["id"], "outcome": "good"}
    later("POST", f"{path}/close", {"glue": "shellac", "outcomes": [outcome]} | ANYWAY)
    later("POST", f"{at}/outcomes", {"outcome": "leaked"})
    told = api.get(f"/v1/pens/{pen}/history").body["history"]
    assert [each["what"] for each in told] == [
        "came",
        *["measured"] * len(BODY),
        "job_opened",
        "approval",
        "step_done",
        "step_undone",
        "corrected",
        "measured",
        "promised",
        "fetched",
        "spoiled",
        "used",
        "timer_set",
        "timer_done",
        "job_closed",
        "outcome",
        "outcome",
    ]
    assert [each["at"] for each in told] == sorted(each["at"] for each in told)
    used = next(each for each in told if each["what"] == "used")
    assert (used["person"], used["note"], used["job"]) == ("Ana", "glued", job["number"])
    known = {"lot": lot, "part": "SAC-15-STR", "label": "16", "kind": "sac", "quantity": 1}
    known |= {"glue": "shellac", "cost": "0.85", "reservation": promise["id"]}
    assert {name: used["details"][name] for name in known} == known
    assert [each["details"]["outcome"] for each in told[-2:]] == ["good", "leaked"]
    pages, after = [], f"/v1/pens/{pen}/history?limit=7"
    while after:
        page = api.get(after).body
        pages += page["history"]
        after = page["next"]
    assert pages == told
    assert api.get("/v1/pens/PEN-9999/history").status == 404


def test_contents_are_what_is_in_the_pen_now(api: Api, clock: Clock) -> None:
    """A later job's sac takes the place of the earlier one, which stays in the history."""
    old, new = api.stock(label="15")["id"], api.stock(label="15 thin")["id"]
    pen = new_pen(api)
    assert api.get(f"/v1/pens/{pen}/contents").body["contents"] == []
    fit(api, pen, old, "good")
    (inside,) = api.get(f"/v1/pens/{pen}/contents").body["contents"]
    known = {"lot": old, "kind": "sac", "part": "SAC-15-STR", "label": "15", "quantity": 1}
    known |= {"since": "2026-11-25T12:00:00.000Z", "actor": "a admin", "outcome": "good"}
    assert {name: inside[name] for name in known} == known
    clock.now += timedelta(days=1000)
    job = fit(api, pen, new)
    (inside,) = api.get(f"/v1/pens/{pen}/contents").body["contents"]
    assert (inside["lot"], inside["job"], inside["outcome"]) == (new, job, None)
    told = api.get(f"/v1/pens/{pen}/history").body["history"]
    assert [each["details"]["lot"] for each in told if each["what"] == "used"] == [old, new]
    sisters = api.get(f"/v1/lots/{old}/outcomes").body["sisters"]
    assert [(each["pen"], each["still_in"]) for each in sisters] == [(pen, False)]


def test_contents_keep_apart_what_seals_in_different_places(api: Api) -> None:
    """A new tail ring does not turn out the sac, and two pieces of one job are both inside."""
    lot = api.stock()["id"]
    ring = {"number": "RING", "kind": "o_ring", "dimensions": {"inside_diameter": "2 mm"}}
    assert api.post("/v1/parts", ring).status == 201
    bag = api.post("/v1/lots", {"part": "RING", "drawer": "A3", "quantity": 5}).body["id"]
    pen = new_pen(api, system="pneumatic")
    fit(api, pen, lot)
    fit(api, pen, bag)
    job = api.post("/v1/jobs", {"pen": pen}).body["number"]
    for quantity in (1, 1):
        body = {"lot": bag, "quantity": quantity}
        made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]
        api.post(f"/v1/reservations/{made['id']}/use", {})
    inside = api.get(f"/v1/pens/{pen}/contents").body["contents"]
    assert [(each["kind"], each["lot"]) for each in inside] == [
        ("sac", lot),
        ("o_ring", bag),
        ("o_ring", bag),
    ]
    assert {each["job"] for each in inside[1:]} == {job}


def test_what_was_taken_out_again_is_no_longer_inside(api: Api) -> None:
    """Pieces put back into stock leave the pen and the job's cost; the history keeps both."""
    lot = api.stock(cost="8.50", label="15")["id"]
    pen = new_pen(api)
    job = api.post("/v1/jobs", {"pen": pen}).body["number"]
    made = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "quantity": 3}).body
    reservation = made["reservations"][0]["id"]
    api.post(f"/v1/reservations/{reservation}/use", {"quantity": 1})
    api.post(f"/v1/reservations/{reservation}/use", {"quantity": 2})
    for back, left in ((2, [1]), (1, [])):
        body = {"reservation": reservation, "quantity": back, "condition": "used"}
        out = api.post(f"/v1/lots/{lot}/put-back", body)
        assert out.status == 201, out.text
        inside = api.get(f"/v1/pens/{pen}/contents").body["contents"]
        assert [each["quantity"] for each in inside] == left
        parts_cost = api.get(f"/v1/jobs/{job}").body["parts_cost"]
        assert parts_cost == ("0.85" if left else "0.00")
    told = api.get(f"/v1/pens/{pen}/history").body["history"]
    moved = [
        (each["what"], each["details"]["lot"], each["details"]["quantity"])
        for each in told
        if each["what"] in {"used", "put_back"}
    ]
    assert moved == [("used", lot, 1), ("used", lot, 2), ("put_back", lot, 2), ("put_back", lot, 1)]
    sisters = api.get(f"/v1/lots/{lot}/outcomes").body["sisters"]
    assert [each["still_in"] for each in sisters] == [False]


def test_the_leading_readings_are_the_workshop_s_choice(api: Api) -> None:
    """With another list of names pens are compared by those, and with none by the model alone."""
    lot = api.stock(label="15")["id"]
    asked = new_pen(api)
    fit(api, new_pen(api, barrel_depth="40 mm"), lot)
    path = "/v1/settings/alike.readings"
    for names, is_like in ((" barrel_bore ,nipple_diameter", True), ("barrel_depth", False)):
        assert api.patch(path, {"value": names, "why": "as we measure"}).status == 200
        assert bool(sizes(api, asked)) is is_like
    api.patch(path, {"value": "none", "why": "models only"})
    assert sizes(api, asked) == []


@pytest.mark.parametrize(
    ("label", "number", "outside", "size"),
    [
        ("16", "ROUND", "16/64 in", "16"),
        ("no. 16, thin", "ROUND", "1/4 in", "16"),
        ("16/64", "ROUND", "16/64 in", "16"),
        (None, "SAC-16-STR", "6.35 mm", "16"),
        (None, "SAC-14.5-NECK", "29/128 in", "14.5"),
        ("14\u00bd", "ROUND", "29/128 in", "14.5"),
        ("16.5", "ROUND", "16/64 in", "ROUND"),
        ("116", "ROUND", "16/64 in", "ROUND"),
        ("15", "ROUND", "5.95 mm", "15"),
        ("15", "ROUND", "5.94 mm", "ROUND"),
        ("16", "ROUND", "6.4 mm", "ROUND"),
        (None, "ROUND", "16/64 in", "ROUND"),
        ("16", "ROUND", None, "ROUND"),
    ],
)
def test_a_size_is_called_by_its_number_where_claim_and_part_agree(
    api: Api, label: str | None, number: str, outside: str | None, size: str
) -> None:
    """A number is a size where the packet or the part says it and the part measures it."""
    api.post("/v1/drawers", {"code": "A3"})
    dimensions = {"outside_diameter": outside} if outside else {}
    part = {"number": number, "kind": "sac", "dimensions": dimensions}
    assert api.post("/v1/parts", part).status == 201
    bag = {"part": number, "drawer": "A3", "quantity": 2, "label": label}
    lot = api.post("/v1/lots", {name: value for name, value in bag.items() if value}).body["id"]
    pen = new_pen(api)
    fit(api, pen, lot, "good")
    (inside,) = api.get(f"/v1/pens/{pen}/contents").body["contents"]
    (told,) = api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"]
    assert inside["size"] == told["size"] == size


def test_contents_keep_apart_pieces_of_one_kind_that_seal_in_two_places(api: Api) -> None:
    """A new head washer does not turn out the packing at the tail, though both are gaskets."""
    api.stock()
    assert api.post("/v1/parts", {"number": "WASHER", "kind": "gasket"}).status == 201
    bag = {"part": "WASHER", "drawer": "A3", "quantity": 9}
    first, second = (api.post("/v1/lots", bag).body["id"] for _ in range(2))
    pen = new_pen(api, system="plunger_vacuum")
    places = []
    for lots in ((first, first), (second,)):
        job = api.post("/v1/jobs", {"pen": pen}).body
        path = f"/v1/jobs/{job['number']}"
        gaskets = [need for need in job["needs"] if need["kind"] == "gasket"]
        places = [need["seals_where"] for need in gaskets]
        decided = f"{path}/needs/{gaskets[1]['id']}"
        assert api.patch(decided, {"decided": True, "quantity": 1}).status == 200
        for lot in lots:
            made = api.post(f"{path}/reservations", {"lot": lot, "quantity": 1}).body
            api.post(f"/v1/reservations/{made['reservations'][0]['id']}/use", {})
        assert api.post(f"{path}/close", ANYWAY).status == 200
    inside = api.get(f"/v1/pens/{pen}/contents").body["contents"]
    assert [(each["lot"], each["seals_where"]) for each in inside] == [
        (first, places[1]),
        (second, places[0]),
    ]


def test_glue_is_named_only_where_there_is_glue(api: Api) -> None:
    """The shellac of a job is told of its sac, and not of a ring fitted in the same job."""
    sac = api.stock()["id"]
    measured = {"inside_diameter": "5 mm", "cross_section": "1 mm"}
    ring = {"number": "RING-5-1", "kind": "o_ring", "dimensions": measured, "material": "NBR"}
    assert api.post("/v1/parts", ring).status == 201
    seal = api.stock(part="RING-5-1", measured={})["id"]
    pen = new_pen(api)
    job = str(api.post("/v1/jobs", {"pen": pen}).body["number"])
    told = []
    for lot in (sac, seal):
        promise = {"lot": lot, "quantity": 1, "override": "tried in"}
        made = api.post(f"/v1/jobs/{job}/reservations", promise)
        assert made.status == 201, made.text
        told.append({"reservation": made.body["reservations"][0]["id"], "outcome": "good"})
        api.post(f"/v1/reservations/{told[-1]['reservation']}/use", {})
    closed = api.post(f"/v1/jobs/{job}/close", {"outcomes": told, "glue": "shellac"} | ANYWAY)
    assert closed.status == 200, closed.text
    glued = {"sac": "shellac", "o_ring": ""}
    inside = api.get(f"/v1/pens/{pen}/contents").body["contents"]
    assert {each["kind"]: each["glue"] for each in inside} == glued
    events = api.get(f"/v1/pens/{pen}/history").body["history"]
    for what in ("used", "outcome"):
        details = [each["details"] for each in events if each["what"] == what]
        assert {each["kind"]: each["glue"] for each in details} == glued
