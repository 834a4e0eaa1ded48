"""Nothing is taken against a judgement, and nothing ends, without somebody saying why."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from sparewell.audit.pieces import audit
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from support.api import Api

TOO_WIDE = {"outside_diameter": "9.5 mm"}


def problems(reply: Any, member: str) -> set[Any]:
    """Return what a refusal names of a kind."""
    return {error[member] for error in reply.body["errors"] if member in error}


def do_every_step(api: Api, job: str) -> None:
    """Tick off all steps of a job."""
    for step in api.get(f"/v1/jobs/{job}").body["steps"]:
        assert api.post(f"/v1/jobs/{job}/steps/{step['position']}/done").status == 200


def fit_best(api: Api, job: str) -> int:
    """Reserve what is best for a job and fit it; return the reservation."""
    made = api.post(f"/v1/jobs/{job}/reservations")
    assert made.status == 201, made.text
    (row,) = made.body["reservations"]
    assert api.post(f"/v1/reservations/{row['id']}/use").status == 200
    return int(row["id"])


def test_a_refused_piece_is_promised_only_with_a_reason(api: Api) -> None:
    """Without one it is 422 at /override with the judgement; with one it is kept and shown."""
    lot, job = api.stock(2, measured=TOO_WIDE)["id"], api.job()
    path = f"/v1/jobs/{job}/reservations"
    refused = api.post(path, {"lot": lot})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/override")
    assert "3.3 mm too wide" in refused.body["detail"]
    assert api.get(f"/v1/lots/{lot}").body["promised"] == 0
    (made,) = api.post(path, {"lot": lot, "override": "turned down first"}).body["reservations"]
    assert (made["verdict"], made["override"]) == ("refused", "turned down first")
    (shown,) = api.get(f"/v1/jobs/{job}").body["overrides"]
    assert (shown["lot"], shown["override"]) == (lot, "turned down first")
    assert "3.3 mm too wide" in shown["refused_because"]
    events = api.get("/v1/pens/PEN-0001/history").body["history"]
    (promised,) = [event for event in events if event["what"] == "promised"]
    assert promised["sentence"].endswith("though refused: turned down first")
    assert api.get("/v1/jobs").body["jobs"][0]["overrides"] == [shown]


def test_a_reason_that_nothing_wanted_is_not_kept(api: Api) -> None:
    """A fitting piece is promised with or without one, and is not called overridden."""
    lot, job = api.stock(2)["id"], api.job()
    body = {"lot": lot, "override": "I like it"}
    (made,) = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"]
    assert (made["verdict"], made["override"]) == ("fits", None)
    assert api.post(f"/v1/jobs/{job}/reservations", {"override": "x"}).status == 422


@pytest.mark.parametrize("readings", [True, False])
def test_an_extra_piece_is_judged_like_the_others(api: Api, readings: bool) -> None:  # noqa: FBT001 - pytest hands it over
    """A vinyl sac is refused for celluloid, as an extra one too, and with nothing measured."""
    api.stock(1)
    vinyl = api.stock(2, material="pvc")["id"]
    if readings:
        job = api.job()
        assert api.post(f"/v1/jobs/{job}/reservations").status == 201
    else:
        pen = {"called": "unread", "filling_system": "lever", "materials": ["celluloid"]}
        number = api.post("/v1/pens", pen).body["number"]
        job = api.post("/v1/jobs", {"pen": number}).body["number"]
    refused = api.post(f"/v1/jobs/{job}/reservations", {"lot": vinyl})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/override")
    assert "PVC" in refused.body["detail"]
    said = {"lot": vinyl, "override": "for the display case"}
    taken = api.post(f"/v1/jobs/{job}/reservations", said)
    assert taken.status == 201
    extra = f"bag {vinyl} (sac): 1 extra: no need of the job lacks it"
    assert (extra in taken.body["warnings"]) is readings


def test_a_fresh_job_does_not_close(api: Api) -> None:
    """Each open need and each undone step is named, the job stays open, and a reason closes it."""
    job = api.job()
    refused = api.post(f"/v1/jobs/{job}/close")
    assert refused.status == 409
    (sac,) = (
        need["id"] for need in api.get(f"/v1/jobs/{job}").body["needs"] if not need["optional"]
    )
    assert problems(refused, "need") == {sac}
    steps = len(api.get(f"/v1/jobs/{job}").body["steps"])
    assert problems(refused, "step") == set(range(1, steps + 1))
    before = api.get(f"/v1/jobs/{job}").body
    assert before["state"] == "open"
    assert len(before["unfinished"]) == steps + 1
    closed = api.post(f"/v1/jobs/{job}/close", {"anyway": "goes back unopened"}).body
    assert (closed["state"], closed["closed_anyway"]) == ("closed", "goes back unopened")
    assert closed["unfinished"] == before["unfinished"], "what was left stays listed"
    assert api.get("/v1/pens/PEN-0001/history").body["history"][-1]["sentence"] == (
        f"{job} closed, though not finished: goes back unopened"
    )


def test_a_finished_job_closes_without_a_reason(api: Api) -> None:
    """Sac fitted and every step done: nothing is unfinished, and a reason is not kept."""
    api.stock()
    job = api.job()
    fit_best(api, job)
    do_every_step(api, job)
    assert api.get(f"/v1/jobs/{job}").body["unfinished"] == []
    closed = api.post(f"/v1/jobs/{job}/close", {"anyway": "to be sure"})
    assert (closed.status, closed.body["closed_anyway"]) == (200, "")


def test_a_piece_put_back_since_is_in_the_way(api: Api) -> None:
    """The need of a sac that was taken out again is open, and named."""
    lot, job = api.stock()["id"], api.job()
    reservation = fit_best(api, job)
    do_every_step(api, job)
    back = {"reservation": reservation, "condition": "as new"}
    assert api.post(f"/v1/lots/{lot}/put-back", back).status in {200, 201}
    refused = api.post(f"/v1/jobs/{job}/close")
    assert (refused.status, len(problems(refused, "need"))) == (409, 1)


def test_a_running_timer_is_in_the_way_and_a_ready_one_is_not(api: Api, clock: Clock) -> None:
    """A leak test of twelve hours is not ended by closing; once it is over nothing stands there."""
    api.stock()
    job = api.job()
    fit_best(api, job)
    do_every_step(api, job)
    timer = api.post(f"/v1/jobs/{job}/timers", {"what": "nib down", "minutes": 720}).body["id"]
    refused = api.post(f"/v1/jobs/{job}/close")
    assert (refused.status, problems(refused, "timer")) == (409, {timer})
    assert api.get(f"/v1/timers/{timer}").body["state"] == "running"
    clock.now += timedelta(hours=13)
    assert api.post(f"/v1/jobs/{job}/close").status == 200


def test_a_step_may_be_not_needed_with_a_reason(api: Api) -> None:
    """It is no longer owed, the reason is shown, and an empty reason is refused."""
    job = api.job()
    path = f"/v1/jobs/{job}/steps/1/done"
    assert api.post(path, {"not_needed": ""}).status == 422
    step = api.post(path, {"not_needed": "it was open already"}).body["steps"][0]
    assert (step["done"], step["not_needed"]) == (True, True)
    assert step["done_note"] == "it was open already"
    assert 1 not in problems(api.post(f"/v1/jobs/{job}/close"), "step")


def test_what_a_material_forbids_is_not_owed(api: Api) -> None:
    """Nobody has to fill a casein pen with water to close its job."""
    pen = {"called": "horn", "filling_system": "lever", "materials": ["casein"]}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body
    wet = {step["position"] for step in job["steps"] if step["substance"] == "water"}
    assert wet
    assert {step["position"] for step in job["steps"] if not step["owed"]} >= wet
    refused = api.post(f"/v1/jobs/{job['number']}/close")
    assert problems(refused, "step").isdisjoint(wet)


@pytest.fixture
def finished(api: Api) -> str:
    """A job with its sac fitted and its steps done."""
    api.stock()
    job = api.job()
    fit_best(api, job)
    do_every_step(api, job)
    return job


def expected_low(api: Api) -> float:
    """Return what the sample pen should take at least, by its own readings."""
    (need, *_) = (
        need for need in api.get("/v1/jobs/JOB-0001/plan").body["needs"] if need["kind"] == "sac"
    )
    return float(need["result"]["expected_fill_ml"]["low"])


@pytest.mark.parametrize("value", ["0.11 ml", "0,11 ml", 0.11, "110 µl"])
def test_a_fill_below_what_the_pen_should_take_fails(api: Api, finished: str, value: Any) -> None:
    """It fails whatever was ticked, is 409 with its figure, and is kept as failed with a reason."""
    body = {"tests": [{"name": "fill_by_weight", "value": value, "passed": True}]}
    refused = api.post(f"/v1/jobs/{finished}/close", body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (409, "/tests/0")
    assert f"{expected_low(api):g} ml" in refused.body["detail"]
    kept = api.post(f"/v1/jobs/{finished}/close", body | {"anyway": "it writes"}).body
    (test,) = kept["test_results"]
    assert (test["passed"], float(test["amount"]), test["unit"]) == (False, 0.11, "ml")


def test_a_good_fill_passes_and_a_seen_failure_stands(api: Api, finished: str) -> None:
    """A figure that is reached passes untouched; what a person saw fail has failed all the same."""
    good = f"{expected_low(api) + 0.1:.2f} ml"
    leaks = {"tests": [{"name": "fill_by_weight", "value": good, "passed": False}]}
    assert api.post(f"/v1/jobs/{finished}/close", leaks).status == 409
    closed = api.post(
        f"/v1/jobs/{finished}/close", {"tests": [{"name": "fill_by_weight", "value": good}]}
    )
    assert closed.status == 200, closed.text
    assert closed.body["test_results"][0]["passed"] is True


@pytest.mark.parametrize("value", ["plenty", "0.9 inches", "-1 ml", "9" * 30])
def test_a_test_with_a_figure_wants_a_number(api: Api, finished: str, value: str) -> None:
    """Words where a number belongs are 422 where they stand, with what would be accepted."""
    body = {"tests": [{"name": "fill_by_weight", "value": value}]}
    refused = api.post(f"/v1/jobs/{finished}/close", body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/tests/0/value")
    assert "0.9 ml" in refused.body["detail"]


def test_without_readings_a_small_fill_is_noted_not_failed(api: Api) -> None:
    """Nobody knows what this pen should take: the usual figure is mentioned and fails nothing."""
    pen = {"called": "small", "filling_system": "lever", "materials": ["celluloid"]}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    tests = [{"name": "fill_by_weight", "value": "0.4 ml", "passed": True}]
    closed = api.post(f"/v1/jobs/{job}/close", {"tests": tests, "anyway": "sac from a friend"})
    (test,) = closed.body["test_results"]
    assert test["passed"] is True
    assert "0.8 ml that is usual" in test["judged"]


def test_what_was_decided_is_reserved(api: Api) -> None:
    """A need that may be left out is taken by {} once somebody decided on it, and is owed then."""
    api.post("/v1/drawers", {"code": "R1"})
    assert api.post("/v1/parts", {"number": "RING", "kind": "o_ring"}).status == 201
    measured = {"inside_diameter": "7.8 mm", "cross_section": "1.5 mm"}
    body = {"part": "RING", "drawer": "R1", "quantity": 3, "measured": measured}
    lot = api.post("/v1/lots", body | {"material": "NBR"}).body["id"]
    pen = {
        "called": "clear dropper",
        "filling_system": "eyedropper",
        "materials": ["hard rubber"],
        "readings": {"section_thread": "8.0 mm", "joint_gap": "1.2 mm"},
    }
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    (need,) = api.get(f"/v1/jobs/{job}").body["needs"]
    assert (need["optional"], need["state"]) == (True, "undecided")
    assert api.post(f"/v1/jobs/{job}/reservations").status == 409
    path = f"/v1/jobs/{job}/needs/{need['id']}"
    assert api.patch(path, {"decided": True}).body["optional"] is False
    plan = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    assert plan["best"] == [{"lot": lot, "quantity": 1}], plan
    made = api.post(f"/v1/jobs/{job}/reservations")
    assert made.status == 201, made.text
    assert made.body["reservations"][0]["lot"] == lot


def test_pieces_called_ruined_may_be_whole_after_all(api: Api, database: Database) -> None:
    """Undo brings the piece, its cost and its promise back, in the tray as before; once only."""
    lot, job = api.stock(2, cost="10.01")["id"], api.job()
    (row,) = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    path = f"/v1/reservations/{row['id']}"
    before = api.post(f"{path}/fetch").body
    stock = api.get(f"/v1/lots/{lot}").body
    api.post(f"{path}/spoil")
    group = api.get(f"/v1/movements?lot={lot}&verb=spoiled").body["movements"][0]["group"]
    undone = api.post(f"/v1/movements/{group}/undo", {"note": "only a crease"})
    assert undone.status == 200, undone.text
    assert api.get(path).body == before
    assert api.get(f"/v1/lots/{lot}").body == stock
    assert api.post(f"/v1/movements/{group}/undo").status == 409
    assert api.get(f"/v1/jobs/{job}").body["needs"][0]["state"] == "promised"
    with read(database) as session:
        assert audit(session).faults == ()
    assert api.post(f"{path}/use").body["state"] == "used"
    with read(database) as session:
        assert audit(session).faults == ()


def test_undone_ruin_of_a_need_that_has_its_piece_goes_back_free(
    api: Api, database: Database
) -> None:
    """Where the next piece was promised meanwhile, the first is free again, not promised twice."""
    lot, job = api.stock(2)["id"], api.job()
    (row,) = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    api.post(f"/v1/reservations/{row['id']}/spoil", {"reserve_next": True})
    group = api.get(f"/v1/movements?lot={lot}&verb=spoiled").body["movements"][0]["group"]
    assert api.post(f"/v1/movements/{group}/undo").status == 200
    after = api.get(f"/v1/lots/{lot}").body
    assert (after["in_hand"], after["promised"]) == (2, 1)
    ended = api.get(f"/v1/reservations/{row['id']}").body
    assert (ended["state"], ended["spoiled"], ended["released"]) == ("released", 0, 1)
    with read(database) as session:
        assert audit(session).faults == ()


def test_ruin_noted_in_a_job_that_has_ended_stands(api: Api) -> None:
    """The refusal names the job."""
    lot, job = api.stock(2)["id"], api.job()
    (row,) = api.post(f"/v1/jobs/{job}/reservations").body["reservations"]
    api.post(f"/v1/reservations/{row['id']}/spoil")
    group = api.get(f"/v1/movements?lot={lot}&verb=spoiled").body["movements"][0]["group"]
    api.post(f"/v1/jobs/{job}/cancel")
    refused = api.post(f"/v1/movements/{group}/undo")
    assert refused.status == 409
    assert job in refused.body["detail"]


def test_a_refusal_names_what_lies_in_the_piece_first(api: Api) -> None:
    """Nobody breaks a promise for a piece that would not do anyway, nor is it the first named."""
    old = api.stock(1, made_on="2015-01-01")["id"]
    good = api.stock(1)["id"]
    first = api.job()
    for lot in (old, good):
        body = {"lot": lot, "override": "a trial"}
        assert api.post(f"/v1/jobs/{first}/reservations", body).status == 201
    second = api.job()
    (sac, *_) = api.get(f"/v1/jobs/{second}/plan").body["needs"]
    said = {each["lot"]: each["why"] for each in sac["refused"]}
    assert [each["lot"] for each in sac["refused"]][:2] == [good, old]
    assert said[old].startswith("over age")
    assert said[old].endswith(f"besides, its only piece is promised to {first}")
    assert said[good] == f"it would do, but its only piece is promised to {first}"


def test_a_fitting_piece_that_is_promised_says_that_it_would_do(api: Api) -> None:
    """The last fitting piece is the first reason, and who has it."""
    api.stock(1)
    first = api.job()
    fit = api.post(f"/v1/jobs/{first}/reservations")
    assert fit.status == 201
    refused = api.post(f"/v1/jobs/{api.job()}/reservations")
    assert f"it would do, but its only piece is promised to {first}" in refused.body["detail"]
