"""All open jobs at once: no piece is counted on twice, and the whole evening is promised in one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from conftest import Clock
from support.api import Api


def _tonight(api: Api, query: str = "") -> Mapping[str, Any]:
    reply = api.get(f"/v1/tonight{query}")
    assert reply.status == 200, reply.text
    return dict(reply.body)


def _numbers(rows: Any) -> list[str]:
    return [row["job"] for row in rows]


def test_the_last_piece_finishes_one_pen_and_is_short_for_the_other(api: Api) -> None:
    """Two jobs want the last sac: one can be finished, the other says who has it."""
    api.stock(quantity=1)
    first, second = api.job(), api.job()
    found = _tonight(api)
    (done,) = found["finishable"]
    (waiting,) = found["waiting_for_part"]
    assert {done["job"], waiting["job"]} == {first, second}
    assert [take["quantity"] for take in done["takes"]] == [1]
    assert waiting["short"][0]["wanted_by"] == [done["job"]]


def test_the_evening_is_walked_along_the_drawers(api: Api) -> None:
    """What is fetched stands by place, for which job, promised pieces with those to be taken."""
    lot = api.stock()["id"]
    first, second = api.job(), api.job()
    api.post(f"/v1/jobs/{first}/reservations")
    (stop,) = _tonight(api)["walk"]
    assert stop == {
        "place": "A3",
        "pieces": [{"job": job, "lot": lot, "quantity": 1} for job in (first, second)],
    }


def test_a_plan_is_promised_as_it_was_shown(api: Api) -> None:
    """The plan of the evening, posted, promises each take of it, all for their needs."""
    lot = api.stock()["id"]
    jobs = [api.job(), api.job()]
    found = _tonight(api)
    made = api.post("/v1/tonight/reservations", {"plan": found["plan"]})
    assert made.status == 201, made.text
    assert made.body["jobs"] == jobs
    assert [row["lot"] for row in made.body["reservations"]] == [lot, lot]
    assert [row["job"] for row in made.body["reservations"]] == jobs


def test_a_plan_that_no_longer_holds_promises_nothing_and_says_why(api: Api) -> None:
    """When a bag was counted to less and a pen was measured anew, both are named."""
    lot = api.stock(quantity=2)["id"]
    api.job()
    job = api.job()
    plan = _tonight(api)["plan"]
    api.post(f"/v1/lots/{lot}/count", {"counted": 1})
    pen = api.get(f"/v1/jobs/{job}").body["pen"]
    api.post(f"/v1/pens/{pen}/readings", {"readings": {"barrel_bore": "8.1 mm"}})
    refused = api.post("/v1/tonight/reservations", {"plan": plan})
    assert refused.status == 409
    told = [error["detail"] for error in refused.body["errors"]]
    assert told == [f"{pen} has changed", f"2 of bag {lot} wanted, and 1 available"]
    assert api.get("/v1/reservations").body["reservations"] == []


def test_a_plan_is_kept_for_a_day(api: Api, clock: Clock) -> None:
    """A day later the plan is not known any more."""
    api.stock()
    api.job()
    plan = _tonight(api)["plan"]
    clock.advance(hours=25)
    refused = api.post("/v1/tonight/reservations", {"plan": plan})
    assert refused.status == 404
    assert "older than a day" in refused.body["detail"]


def test_named_jobs_are_all_finished_or_nothing_is_promised(api: Api) -> None:
    """One of two named jobs has no piece: neither is promised anything, and it is named."""
    api.stock(quantity=1)
    jobs = [api.job(), api.job()]
    refused = api.post("/v1/tonight/reservations", {"jobs": jobs})
    assert refused.status == 409
    assert "waits for part: sac lacks 1" in refused.body["detail"]
    made = api.post("/v1/tonight/reservations", {"jobs": jobs[1:]})
    assert made.status == 201
    assert [row["job"] for row in made.body["reservations"]] == jobs[1:]


def test_a_promised_piece_moves_where_that_finishes_a_pen(api: Api) -> None:
    """A job that holds the only sac for another takes one that fits it as well."""
    only = api.stock(quantity=1)["id"]
    wide = {"barrel_bore": "9.4 mm", "nipple_diameter": "7.5 mm"}
    flexible = api.job()
    held = api.post(f"/v1/jobs/{flexible}/reservations").body["reservations"][0]
    assert held["lot"] == only
    other = api.stock(quantity=1)["id"]
    needy = api.job()
    found = _tonight(api)
    assert {row["job"] for row in found["finishable"]} == {flexible, needy}
    assert wide
    made = api.post("/v1/tonight/reservations", {"plan": found["plan"]})
    assert made.status == 201
    assert {row["lot"] for row in made.body["reservations"]} == {other}


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?weight=beauty", "must be count, promised or value"),
        ("?minutes=-5", "must be a whole number of minutes"),
        ("?move=all", "must be mine, any or false"),
    ],
)
def test_what_makes_no_sense_is_refused(api: Api, query: str, said: str) -> None:
    """An address that asks what there is not is told what there is."""
    refused = api.get(f"/v1/tonight{query}")
    assert refused.status == 422
    assert said in refused.text
