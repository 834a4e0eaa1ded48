"""Closing over HTTP: outcomes of used pieces, how the pen tested, and whether it was worth it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from support.api import ANYWAY, Api

CLOSING = ANYWAY | {
    "glue": "shellac",
    "ink": "washable blue",
    "tests": [
        {"name": "fill", "value": "0.9 ml", "passed": True},
        {"name": "leak", "value": "overnight", "passed": None},
    ],
    "time_minutes": 90,
    "value_as_restored": "120.00",
    "note": "lever a little stiff",
}


def reserved(api: Api, job: str, lot: int, quantity: int = 1, *, used: int = 0) -> int:
    """Reserve pieces of a lot for a job, use some, and return the reservation."""
    body = {"lot": lot, "quantity": quantity}
    made = api.post(f"/v1/jobs/{job}/reservations", body)
    assert made.status == 201, made.text
    reservation = int(made.body["reservations"][0]["id"])
    if used:
        api.post(f"/v1/reservations/{reservation}/use", {"quantity": used})
    return reservation


def fitted(api: Api, lot: int) -> tuple[str, int]:
    """Fit a sac of a lot to the sample pen; return the job and the reservation."""
    job = api.job()
    return job, reserved(api, job, lot, used=1)


def test_close_keeps_what_was_said_and_each_outcome(api: Api) -> None:
    """Glue, ink, tests, time and value come back, and the outcome has what was known then."""
    lot = api.stock(label="15")["id"]
    job, reservation = fitted(api, lot)
    outcome = {"reservation": reservation, "outcome": "good", "note": "snug"}
    path = f"/v1/jobs/{job}"
    closed = api.post(f"{path}/close", CLOSING | {"outcomes": [outcome], "model_note": "Olive 3"})
    assert (closed.status, closed.body["state"]) == (200, "closed")
    assert closed.body["test_results"] == CLOSING["tests"]
    for name in ("glue", "ink", "time_minutes", "value_as_restored", "note"):
        assert closed.body[name] == CLOSING[name]
    assert api.get(path).body == closed.body
    assert api.get("/v1/pens/PEN-0001").body["model_note"] == "Olive 3"
    (kept,) = api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"]
    known = {"size": "15", "verdict": "fits", "glue": "shellac", "ink": "washable blue"}
    known |= {"outcome": "good", "note": "snug", "lot": lot, "pen": "PEN-0001", "job": job}
    assert {name: kept[name] for name in known} == known
    bore = kept["readings"]["barrel_bore"]
    assert (bore["value"], bore["entered"]) == (8.0, "8.0 mm")


def test_close_may_say_nothing(api: Api) -> None:
    """All of it may be left out, as it could be before."""
    closed = api.post(f"/v1/jobs/{api.job()}/close", ANYWAY)
    assert (closed.status, closed.body["glue"], closed.body["test_results"]) == (200, "", [])
    assert (closed.body["time_minutes"], closed.body["value_as_restored"]) == (None, None)


@pytest.mark.parametrize(
    ("outcomes", "pointer"),
    [
        ([{"reservation": "of another job", "outcome": "good"}], "/outcomes/0/reservation"),
        ([{"reservation": "released", "outcome": "good"}], "/outcomes/0/reservation"),
        ([{"reservation": 999_999, "outcome": "good"}], "/outcomes/0/reservation"),
        (
            [
                {"reservation": "used", "outcome": "good"},
                {"reservation": "used", "outcome": "leaked"},
            ],
            "/outcomes/1/reservation",
        ),
        ([{"reservation": "used", "outcome": "fine"}], "/outcomes/0/outcome"),
        ([{"reservation": "used"}], "/outcomes/0/outcome"),
        ([{"outcome": "good"}], "/outcomes/0/reservation"),
        ([{"reservation": "used", "outcome": "good", "grade": 1}], "/outcomes/0/grade"),
        ({}, "/outcomes"),
    ],
)
def test_outcome_of_what_was_not_used_is_refused(api: Api, outcomes: Any, pointer: str) -> None:
    """Each is 422 where the fault is; the job stays open and no outcome is kept."""
    lot = api.stock()["id"]
    job, used = fitted(api, lot)
    released = reserved(api, job, lot)
    api.post(f"/v1/reservations/{released}/release")
    known = {"used": used, "released": released, "of another job": fitted(api, lot)[1]}
    body = [
        {name: known.get(value, value) for name, value in outcome.items()} for outcome in outcomes
    ]
    refused = api.post(f"/v1/jobs/{job}/close", {"outcomes": body or outcomes} | ANYWAY)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer)
    assert api.get(f"/v1/jobs/{job}").body["state"] == "open"
    assert api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"] == []


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"tests": [{"value": "0.9 ml"}]}, "/tests/0/name"),
        ({"tests": [{"name": "fill", "passed": "yes"}]}, "/tests/0/passed"),
        ({"tests": [{"name": "fill"}] * 51}, "/tests"),
        ({"time_minutes": -5}, "/time_minutes"),
        ({"value_as_restored": "-120"}, "/value_as_restored"),
        ({"glue": "x" * 201}, "/glue"),
        ({"paint": "red"}, "/paint"),
    ],
)
def test_bad_words_at_the_close_are_refused(api: Api, body: dict[str, Any], pointer: str) -> None:
    """Each is 422 where the fault is, and the job stays open."""
    job = api.job()
    refused = api.post(f"/v1/jobs/{job}/close", ANYWAY | body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer)
    assert api.get(f"/v1/jobs/{job}").body["state"] == "open"


def test_close_with_pieces_still_promised_keeps_nothing(api: Api) -> None:
    """What was said with a close that is refused is not kept by half."""
    lot = api.stock()["id"]
    job, used = fitted(api, lot)
    reserved(api, job, lot)
    body = CLOSING | {"outcomes": [{"reservation": used, "outcome": "good"}]}
    assert api.post(f"/v1/jobs/{job}/close", body).status == 409
    after = api.get(f"/v1/jobs/{job}").body
    assert (after["state"], after["glue"], after["test_results"]) == ("open", "", [])
    assert api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"] == []


def test_leak_that_shows_later_is_added_and_counts(api: Api, clock: Clock) -> None:
    """The first word stays, the latest counts, and readings are as they were at the fitting."""
    lot = api.stock()["id"]
    job, reservation = fitted(api, lot)
    said = {"outcomes": [{"reservation": reservation, "outcome": "good"}], "glue": "shellac"}
    api.post(f"/v1/jobs/{job}/close", said | ANYWAY)
    clock.now += timedelta(days=300)
    bore = api.get("/v1/pens/PEN-0001").body["readings"]["barrel_bore"]["id"]
    misread = {"readings": {"barrel_bore": "8.3 mm"}, "corrects": bore, "why": "misread"}
    assert api.post("/v1/pens/PEN-0001/readings", misread).status == 201
    path = f"/v1/reservations/{reservation}/outcomes"
    added = api.post(path, {"outcome": "leaked", "note": "at the nipple"}, Sparewell_Person="Ana")
    assert (added.status, added.headers["Location"]) == (201, f"/v1/lots/{lot}/outcomes")
    assert (added.body["counts"], added.body["glue"]) == (True, "shellac")
    assert (added.body["person"], added.body["note"]) == ("Ana", "at the nipple")
    assert added.body["readings"]["barrel_bore"]["value"] == 8.0
    told = api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"]
    assert [(each["outcome"], each["counts"]) for each in told] == [
        ("good", False),
        ("leaked", True),
    ]


@pytest.mark.parametrize(
    ("body", "status", "pointer"),
    [
        ({}, 422, "/outcome"),
        ({"outcome": "exploded"}, 422, "/outcome"),
        ({"outcome": "leaked", "reservation": 1}, 422, "/reservation"),
        ({"outcome": "leaked"}, 409, None),
    ],
)
def test_outcome_needs_used_pieces_and_a_known_word(
    api: Api, body: dict[str, Any], status: int, pointer: str | None
) -> None:
    """A word that is none is 422; where nothing was used it is 409; and nothing is kept."""
    lot = api.stock()["id"]
    reservation = reserved(api, api.job(), lot)
    refused = api.post(f"/v1/reservations/{reservation}/outcomes", body)
    assert refused.status == status
    assert pointer in [None, *(each["pointer"] for each in refused.body.get("errors", []))]
    assert api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"] == []
    assert api.post("/v1/reservations/999999/outcomes", {"outcome": "good"}).status == 404


def test_failed_lot_names_its_sisters(api: Api) -> None:
    """Every other pen with pieces of the lot is named, those of split-off bags too."""
    lot = api.stock()["id"]
    api.post("/v1/drawers", {"code": "B1"})
    child = api.post(f"/v1/lots/{lot}/move", {"drawer": "B1", "quantity": 4}).body["id"]
    stranger = api.stock()["id"]
    (failed, leaking), (_, good), (_, silent) = (
        fitted(api, lot),
        fitted(api, lot),
        fitted(api, child),
    )
    fitted(api, stranger)
    for reservation, outcome in ((leaking, "leaked"), (good, "good")):
        api.post(f"/v1/reservations/{reservation}/outcomes", {"outcome": outcome})
    for asked in (lot, child):
        body = api.get(f"/v1/lots/{asked}/outcomes").body
        assert [each["outcome"] for each in body["outcomes"]] == ["leaked", "good"]
        assert [(each["reservation"], each["lot"]) for each in body["sisters"]] == [
            (silent, child),
            (good, lot),
        ]
        assert [each["outcome"] for each in body["sisters"]] == [None, "good"]
        assert failed not in {each["job"] for each in body["sisters"]}
        assert {each["still_in"] for each in body["sisters"]} == {True}
        assert body["sisters_left_out"] == 0
    page = api.get(f"/v1/lots/{lot}/outcomes?limit=1").body
    assert [each["outcome"] for each in page["outcomes"]] == ["leaked"]
    assert [each["outcome"] for each in api.get(page["next"]).body["outcomes"]] == ["good"]
    assert api.get(f"/v1/lots/{stranger}/outcomes").body["outcomes"] == []
    assert api.get("/v1/lots/999999/outcomes").status == 404


def test_worth_adds_what_is_known_and_says_what_is_missing(api: Api) -> None:
    """Pen, parts as taken, time by the hour and postage come off the value, each with a source."""
    lot = api.stock(quantity=3, cost="1.00")["id"]
    job, _ = fitted(api, lot)
    spoiled = reserved(api, job, lot)
    api.post(f"/v1/reservations/{spoiled}/spoil")
    path = f"/v1/jobs/{job}"
    bare = api.get(f"{path}/worth").body
    amounts = {line["name"]: line["amount"] for line in bare["lines"]}
    assert amounts == {
        "pen": None,
        "parts": "0.33",
        "spoiled parts": "0.33",
        "time": None,
        "postage": None,
    }
    assert (bare["total"], bare["difference"], bare["complete"]) == ("0.66", None, False)
    assert len(bare["missing"]) == 5
    api.patch("/v1/settings/worth.hourly_rate", {"value": 25, "why": "what it costs here"})
    api.patch("/v1/pens/PEN-0001", {"cost": "40.00"})
    api.patch(path, {"postage": "6.90"})
    api.post(f"{path}/close", ANYWAY | {"time_minutes": 100, "value_as_restored": "120.00"})
    worth = api.get(f"{path}/worth").body
    amounts = {line["name"]: line["amount"] for line in worth["lines"]}
    assert (amounts["time"], amounts["pen"], amounts["postage"]) == ("41.67", "40.00", "6.90")
    assert (worth["total"], worth["difference"]) == ("89.23", "30.77")
    assert (worth["complete"], worth["missing"]) == (True, [])
    assert all(line["source"] for line in worth["lines"])
    assert worth["settings"][0]["name"] == "worth.hourly_rate"
    loss = api.patch(path, {"value_as_restored": "80"})
    assert loss.status == 200
    assert api.get(f"{path}/worth").body["difference"] == "-9.23"


def test_worth_says_so_when_a_lot_has_no_cost(api: Api) -> None:
    """Pieces of a lot without a cost leave the parts unknown, not free."""
    job, _ = fitted(api, api.stock()["id"])
    worth = api.get(f"/v1/jobs/{job}/worth").body
    assert next(line for line in worth["lines"] if line["name"] == "parts")["amount"] is None
    assert any("cost of 1 pieces" in sentence for sentence in worth["missing"])
