"""Waiting over HTTP: timers of all jobs by the server's clock, and the steps that are done."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask

from conftest import Clock
from sparewell.app.factory import create_app
from sparewell.database.engine import Database
from sparewell.extend.host import Declarations
from support.api import ANYWAY, Api

AT_NOON = "2026-11-25T12:00:00.000Z"
Told = list[tuple[str, str]]


def timer(api: Api, job: str, what: str, minutes: int) -> dict[str, Any]:
    """Let a job wait and return the timer."""
    reply = api.post(f"/v1/jobs/{job}/timers", {"what": what, "minutes": minutes})
    assert reply.status == 201, reply.text
    return dict(reply.body)


def listed(api: Api, query: str = "") -> Told:
    """Return what the list of timers says: what for, and how it stands."""
    body = api.get(f"/v1/timers{query}").body
    return [(each["what"], each["state"]) for each in body["timers"]]


@pytest.mark.parametrize(
    ("body", "until"),
    [
        ({"minutes": 45}, "2026-11-25T12:45:00.000Z"),
        ({"until": "2026-11-25T21:40:00Z"}, "2026-11-25T21:40:00.000Z"),
        ({"until": "2026-11-25t22:40:00.5+01:00"}, "2026-11-25T21:40:00.500Z"),
        ({"until": "2026-11-25T11:59:00z"}, "2026-11-25T11:59:00.000Z"),
    ],
)
def test_timer_ends_when_it_is_told_to(api: Api, body: dict[str, Any], until: str) -> None:
    """Minutes count from the server's now; a moment may have any zone and is shown in UTC."""
    job = api.job()
    made = api.post(f"/v1/jobs/{job}/timers", {"what": "shellac"} | body)
    assert (made.status, made.headers["Location"]) == (201, f"/v1/timers/{made.body['id']}")
    assert (made.body["until"], made.body["job"], made.body["pen"]) == (until, job, "PEN-0001")
    assert made.body["ready"] is (until < AT_NOON)
    assert api.get(made.headers["Location"]).body == made.body
    shown = api.get(f"/v1/jobs/{job}").body["timers"]
    assert [(each["what"], each["until"]) for each in shown] == [("shellac", until)]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/what"),
        ({"what": ""}, "/what"),
        ({"what": "soak"}, "/until"),
        ({"what": "soak", "minutes": 5, "until": "2026-11-25T21:40:00Z"}, "/until"),
        ({"what": "soak", "minutes": 0}, "/minutes"),
        ({"what": "soak", "minutes": 1.5}, "/minutes"),
        ({"what": "soak", "minutes": 10**9}, "/minutes"),
        ({"what": "soak", "until": "tonight"}, "/until"),
        ({"what": "soak", "until": "2026-11-25T21:40:00"}, "/until"),
        ({"what": "soak", "until": "2026-11-31T21:40:00Z"}, "/until"),
        ({"what": "soak", "until": "2026-11-25T21:40:00+99:00"}, "/until"),
        ({"what": "soak", "until": "0001-01-01T00:00:00+14:00"}, "/until"),
        ({"what": "soak", "until": "2028-11-25T21:40:00Z"}, "/until"),
        ({"what": "soak", "until": "1999-11-25T21:40:00Z"}, "/until"),
        ({"what": "soak", "until": 1795642800}, "/until"),
    ],
)
def test_timer_without_a_possible_end_is_refused(
    api: Api, body: dict[str, Any], pointer: str
) -> None:
    """Each is 422 where the fault is, and the job waits for nothing."""
    job = api.job()
    refused = api.post(f"/v1/jobs/{job}/timers", body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer)
    assert api.get("/v1/timers").body == {"timers": [], "next": None}


def test_timers_of_all_jobs_come_soonest_first_and_turn_ready_by_the_clock(
    api: Api, clock: Clock
) -> None:
    """The list is in the order of the ends, whoever waits, and can be narrowed by state and end."""
    one, other = api.job(), api.job()
    timer(api, one, "soak", 600)
    timer(api, other, "shellac", 45)
    done = timer(api, one, "heat", 5)
    assert listed(api) == [("heat", "running"), ("shellac", "running"), ("soak", "running")]
    clock.now += timedelta(minutes=45)
    ended = api.post(f"/v1/timers/{done['id']}/done").body
    assert (ended["state"], ended["ready"]) == ("done", False)
    assert ended["done_at"] == "2026-11-25T12:45:00.000Z"
    assert listed(api, "?state=running") == [("soak", "running")]
    assert listed(api, "?state=ready") == [("shellac", "ready")]
    assert listed(api, "?state=done") == [("heat", "done")]
    assert listed(api, "?before=2026-11-25T12:45:00Z") == [("heat", "done")]
    assert listed(api, "?before=2026-11-25T12:45:01Z&state=ready") == [("shellac", "ready")]
    first = api.get("/v1/timers?limit=2")
    assert [each["what"] for each in first.body["timers"]] == ["heat", "shellac"]
    assert first.headers["Link"] == f'<{first.body["next"]}>; rel="next"'
    assert [each["what"] for each in api.get(first.body["next"]).body["timers"]] == ["soak"]


@pytest.mark.parametrize(
    ("query", "parameter"),
    [("state=late", "state"), ("before=soon", "before"), ("before=2026-11-25", "before")],
)
def test_list_of_timers_refuses_what_it_does_not_know(api: Api, query: str, parameter: str) -> None:
    """A state or a moment that is none is 422 and names the parameter."""
    refused = api.get(f"/v1/timers?{query}")
    assert (refused.status, refused.body["errors"][0]["parameter"]) == (422, parameter)


def test_timer_is_moved_with_its_present_tag_and_ends_once(api: Api, clock: Clock) -> None:
    """Moving needs If-Match; a timer that is done can be neither moved nor done again."""
    made = timer(api, api.job(), "shellac", 45)
    path = f"/v1/timers/{made['id']}"
    assert api.call("PATCH", path, {"minutes": 60}).status == 428
    assert api.patch(path, {"minutes": 60}, If_Match='"stale"').status == 412
    clock.now += timedelta(minutes=30)
    moved = api.patch(path, {"minutes": 60, "note": "still tacky"}).body
    assert (moved["until"], moved["what"]) == ("2026-11-25T13:30:00.000Z", "shellac")
    assert api.patch(path, {"what": "shellac, second coat"}).body["until"] == moved["until"]
    assert api.post(f"{path}/done", {"note": "hard"}).status == 200
    for refused in (api.post(f"{path}/done"), api.patch(path, {"minutes": 5})):
        assert refused.status == 409
        assert "is done since 2026-11-25 12:30 UTC" in refused.body["detail"]
    assert api.get("/v1/timers/999999").status == 404


@pytest.mark.parametrize(("end", "state"), [("close", "closed"), ("cancel", "cancelled")])
def test_timers_end_with_their_job(api: Api, end: str, state: str) -> None:
    """Nobody is called to a job that has ended, and it waits for nothing new."""
    job = api.job()
    timer(api, job, "soak", 600)
    body = ANYWAY if end == "close" else {}
    assert api.post(f"/v1/jobs/{job}/{end}", body).body["timers"][0]["done_at"] == AT_NOON
    assert listed(api, "?state=done") == [("soak", "done")]
    refused = api.post(f"/v1/jobs/{job}/timers", {"what": "more", "minutes": 5})
    assert refused.status == 409
    assert state in refused.body["detail"]


def test_timers_outlive_the_server(
    app: Flask, api: Api, database: Database, declared: Declarations, clock: Clock
) -> None:
    """A server started afresh on the same database knows every timer and calls it in time."""
    timer(api, api.job(), "soak", 600)
    clock.now += timedelta(hours=10)
    assert app is not None
    afresh = Api(create_app(database, declared, clock=clock), api.token)
    assert listed(afresh, "?state=ready") == [("soak", "ready")]


def test_job_shows_where_it_stands(api: Api, clock: Clock) -> None:
    """Steps are done, undone and done again by people, and the first open one is named."""
    job = api.job()
    path = f"/v1/jobs/{job}"
    assert api.get(path).body["stands_at"] == 1
    done = api.post(f"{path}/steps/1/done", {"note": "came at once"}, Sparewell_Person="Ana").body
    assert done["stands_at"] == 2
    first = done["steps"][0]
    assert (first["position"], first["done"], first["done_by"]) == (1, True, "Ana")
    assert (first["done_note"], first["done_at"]) == ("came at once", AT_NOON)
    clock.now += timedelta(minutes=5)
    api.post(f"{path}/steps/3/done")
    undone = api.post(f"{path}/steps/1/undone", {"note": "stuck again"}).body
    assert (undone["stands_at"], undone["steps"][0]["done"]) == (1, False)
    assert undone["steps"][0]["done_by"] is None
    assert [step["done"] for step in undone["steps"]][:4] == [False, False, True, False]
    assert api.post(f"{path}/steps/1/done").body["steps"][0]["done_by"] == "a admin"
    for position in range(1, len(undone["steps"]) + 1):
        api.post(f"{path}/steps/{position}/done")
    assert api.get(path).body["stands_at"] is None


@pytest.mark.parametrize(
    ("position", "verb", "status", "says"),
    [
        (2, "done", 409, "is done already"),
        (1, "undone", 409, "is not done"),
        (99, "done", 404, "there is no step 99"),
        (0, "done", 404, ""),
    ],
)
def test_step_that_stands_so_already_is_refused(
    api: Api, position: int, verb: str, status: int, says: str
) -> None:
    """Doing what is done, or undoing what is not, is 409; a step there is not is 404."""
    path = f"/v1/jobs/{api.job()}"
    before = api.post(f"{path}/steps/2/done").body
    refused = api.post(f"{path}/steps/{position}/{verb}")
    assert refused.status == status
    assert says in refused.body["detail"]
    assert api.get(path).body == before


def test_steps_of_an_ended_job_stand(api: Api) -> None:
    """After the close no step is done or undone."""
    path = f"/v1/jobs/{api.job()}"
    api.post(f"{path}/steps/1/done")
    api.post(f"{path}/close", ANYWAY)
    assert api.post(f"{path}/steps/2/done").status == 409
    assert api.post(f"{path}/steps/1/undone").status == 409


def test_of_many_hands_at_once_one_is_the_first(api: Api) -> None:
    """A step, a timer and a correction tapped eight times at once each happen once."""
    job = api.job()
    made = timer(api, job, "shellac", 45)
    wrong = api.get("/v1/pens/PEN-0001").body["readings"]["barrel_bore"]["id"]
    correction = {"readings": {"barrel_bore": "8.1 mm"}, "corrects": wrong, "why": "misread"}
    for path, body, first in (
        (f"/v1/jobs/{job}/steps/1/done", {}, 200),
        (f"/v1/timers/{made['id']}/done", {}, 200),
        ("/v1/pens/PEN-0001/readings", correction, 201),
    ):

        def tap(_: int, path: str = path, body: dict[str, Any] = body) -> int:
            return Api(api.app, api.token).post(path, body).status

        with ThreadPoolExecutor(8) as hands:
            assert sorted(hands.map(tap, range(8))) == [first, *[409] * 7]
    kept = api.get("/v1/pens/PEN-0001").body["all_readings"]
    assert [each["name"] for each in kept].count("barrel_bore") == 2
