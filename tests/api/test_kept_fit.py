"""What a promise keeps of its fit, what pieces were glued with, and when an outcome was found."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from conftest import NOW, Clock
from support.api import ANYWAY, Api

TODAY = NOW.date()


def promised(api: Api, job: str, **said: Any) -> dict[str, Any]:
    """Reserve for a job, and return the first reservation."""
    made = api.post(f"/v1/jobs/{job}/reservations", said)
    assert made.status == 201, made.text
    return dict(made.body["reservations"][0])


def test_a_promise_keeps_the_margins_of_its_plan(api: Api) -> None:
    """Who judged, and how much room there was, are those that the plan showed for the piece."""
    api.stock()
    job = api.job()
    (need, *_) = api.get(f"/v1/jobs/{job}/plan").body["needs"]
    (candidate,) = need["candidates"]
    row = promised(api, job)
    assert (row["calculator"], row["margins"]) == ("sac", candidate["margins"])
    assert {"barrel", "stretch_percent"} <= row["margins"].keys()
    assert api.get(f"/v1/reservations/{row['id']}").body == row


def test_a_named_lot_keeps_them_too(api: Api) -> None:
    """One that is refused keeps what was in the way, below zero; an extra one keeps its own."""
    refused = api.stock(measured={"outside_diameter": "9 mm"})["id"]
    job = api.job()
    row = promised(api, job, lot=refused, override="the owner's wish")
    assert row["calculator"] == "sac"
    assert row["margins"]["barrel"] < 0
    extra = promised(api, job, lot=api.stock()["id"])
    assert (extra["need"], extra["calculator"]) == (None, "sac")
    assert extra["margins"]["barrel"] > 0


def test_what_nobody_judged_has_no_margins(api: Api) -> None:
    """A piece for a pen without readings is promised by name, and keeps nothing of a fit."""
    lot = api.stock()["id"]
    pen = api.post("/v1/pens", {"called": "unmeasured", "filling_system": "lever"}).body["number"]
    job = api.post("/v1/jobs", {"pen": pen}).body["number"]
    row = promised(api, job, lot=lot)
    assert (row["calculator"], row["margins"]) == (None, {})


def test_the_piece_after_a_ruined_one_keeps_its_own(api: Api) -> None:
    """What is reserved next, in the moment in which a piece is ruined, keeps its margins."""
    api.stock()
    row = promised(api, api.job())
    spoiled = api.post(f"/v1/reservations/{row['id']}/spoil", {"reserve_next": True})
    (following,) = spoiled.body["next"]["reserved"]
    assert (following["calculator"], following["margins"]) == ("sac", row["margins"])


def test_pieces_may_have_their_own_glue(api: Api) -> None:
    """Said when they are fitted it stands with the outcome and in the pen, before the job's."""
    lot = api.stock()["id"]
    job = api.job()
    own, jobs = (promised(api, job, lot=lot, quantity=2)["id"] for _ in range(2))
    api.post(f"/v1/reservations/{own}/use", {"glue": "silicone adhesive", "quantity": 1})
    assert api.post(f"/v1/reservations/{own}/use").body["glue"] == "silicone adhesive"
    assert api.post(f"/v1/reservations/{jobs}/use").body["glue"] == ""
    said = [{"reservation": own, "outcome": "good"}, {"reservation": jobs, "outcome": "good"}]
    api.post(f"/v1/jobs/{job}/close", ANYWAY | {"glue": "shellac", "outcomes": said})
    outcomes = api.get(f"/v1/lots/{lot}/outcomes").body["outcomes"]
    assert [each["glue"] for each in outcomes] == ["silicone adhesive", "shellac"]
    contents = api.get("/v1/pens/PEN-0001/contents").body["contents"]
    glues = {each["reservation"]: each["glue"] for each in contents}
    assert glues == {own: "silicone adhesive", jobs: "shellac"}


def used(api: Api) -> int:
    """Fit a sac; return its reservation."""
    api.stock()
    row_id = int(promised(api, api.job())["id"])
    api.post(f"/v1/reservations/{row_id}/use")
    return row_id


def test_an_outcome_has_the_day_on_which_it_was_found(api: Api, clock: Clock) -> None:
    """It is the day of noting unless another is said; both days stay."""
    path = f"/v1/reservations/{used(api)}/outcomes"
    assert api.post(path, {"outcome": "good"}).body["happened_on"] == f"{TODAY}"
    clock.now += timedelta(days=400)
    day = TODAY + timedelta(days=390)
    told = api.post(path, {"outcome": "leaked", "happened_on": f"{day}"}).body
    assert told["happened_on"] == f"{day}"
    assert told["at"].startswith(f"{TODAY + timedelta(days=400)}")
    told = api.get("/v1/pens/PEN-0001/history").body["history"][-1]
    assert (told["what"], told["details"]["happened_on"]) == ("outcome", f"{day}")


@pytest.mark.parametrize("day", [TODAY - timedelta(days=2), TODAY + timedelta(days=2), "never"])
def test_a_day_that_cannot_be_is_refused(api: Api, day: date | str) -> None:
    """Before the promise or still to come is refused, with the days between which it may be."""
    row_id = used(api)
    refused = api.post(
        f"/v1/reservations/{row_id}/outcomes", {"outcome": "leaked", "happened_on": f"{day}"}
    )
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/happened_on")
    said = {"reservation": row_id, "outcome": "leaked", "happened_on": f"{day}"}
    closing = api.post("/v1/jobs/JOB-0001/close", ANYWAY | {"outcomes": [said]})
    assert (closing.status, closing.body["errors"][0]["pointer"]) == (
        422,
        "/outcomes/0/happened_on",
    )
    assert api.get("/v1/lots/1/outcomes").body["outcomes"] == []
