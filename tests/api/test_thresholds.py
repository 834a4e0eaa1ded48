"""When a part is to be ordered: said for each part, with who, when and why, older ones kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from sparewell.app.declarations import core_declarations
from sparewell.app.factory import create_app
from sparewell.database.engine import Database
from support.api import Api
from support.supply import PART, due, made, used

PATH = f"/v1/parts/{PART}/threshold"
POISSON = {"policy": "poisson", "parameters": {"service_level": "0.98"}, "why": "it stops jobs"}


def test_a_part_has_no_threshold_until_one_is_set(api: Api) -> None:
    """Before anything was said the part goes by the workshop's policy."""
    api.stock()
    reply = api.get(PATH)
    assert reply.body == {"part": PART, "policy": None, "parameters": {}, "history": []}
    assert reply.headers["ETag"]
    assert api.get("/v1/parts/NONE/threshold").status == 404


def test_a_threshold_is_kept_with_who_when_and_why(api: Api, clock: Clock) -> None:
    """Each change stands in the history with its reason, and the latest holds."""
    api.stock()
    first = api.patch(PATH, POISSON, Sparewell_Person="Mina")
    assert first.status == 200, first.text
    clock.now += timedelta(days=1)
    later = {"policy": "keep_at_least", "parameters": {"pieces": 5}, "why": "simpler"}
    found = made(api.patch(PATH, later))
    assert (found["policy"], found["parameters"]) == ("keep_at_least", {"pieces": 5})
    assert [(each["policy"], each["person"], each["why"]) for each in found["history"]] == [
        ("poisson", "Mina", "it stops jobs"),
        ("keep_at_least", None, "simpler"),
    ]
    assert found["history"][0]["at"] == "2026-11-25T12:00:00.000Z"
    assert api.get(PATH).body == found


def test_a_threshold_is_taken_back(api: Api) -> None:
    """A policy of null leaves the part to the workshop's policy, and the history stays."""
    api.stock()
    api.patch(PATH, {"policy": "keep_at_least", "parameters": {"pieces": 50}, "why": "a fair"})
    assert due(api)[PART]["order_quantity"] == 40
    found = made(api.patch(PATH, {"policy": None, "why": "the fair is over"}))
    assert (found["policy"], len(found["history"])) == (None, 2)
    assert due(api) == {}


def test_a_change_needs_the_present_tag(api: Api) -> None:
    """Without a tag it is 428, with that of before somebody else's change 412."""
    api.stock()
    tag = api.get(PATH).headers["ETag"]
    assert api.call("PATCH", PATH, POISSON).status == 428
    made(api.patch(PATH, POISSON, If_Match=tag))
    assert api.patch(PATH, POISSON, If_Match=tag).status == 412


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"policy": "by_the_moon"}, "/policy"),
        ({"parameters": {"level": 0.9}}, "/parameters/level"),
        ({"parameters": {"service_level": "2"}}, "/parameters/service_level"),
        ({"parameters": {"service_level": None}}, "/parameters/service_level"),
        ({"policy": None}, "/parameters"),
        (
            {"policy": "keep_at_least", "parameters": {"pieces": 5, "up_to": 3}},
            "/parameters/up_to",
        ),
        ({"why": ""}, "/why"),
    ],
)
def test_a_threshold_that_cannot_be_is_refused(
    api: Api, change: dict[str, Any], pointer: str
) -> None:
    """Each fault is refused where it stands, and nothing is written."""
    api.stock()
    reply = api.patch(PATH, POISSON | change)
    assert reply.status == 422, reply.text
    assert reply.body["errors"][0]["pointer"] == pointer
    assert api.get(PATH).body["history"] == []


def test_parameters_stay_as_they_were_given(api: Api) -> None:
    """A number that a float could not hold comes back digit by digit."""
    api.stock()
    body = '{"policy":"poisson","parameters":{"service_level":0.9123456789012345678},"why":"x"}'
    tag = api.get(PATH).headers["ETag"]
    found = made(api.call("PATCH", PATH, raw=body, If_Match=tag))
    assert found["parameters"] == {"service_level": "0.9123456789012345678"}


def test_without_the_plugin_everything_else_works(
    database: Database, clock: Clock, token_of: Callable[[str], str]
) -> None:
    """With the plugin skipped no thresholds are kept, and the list of what to order says so."""
    declared = core_declarations(skip=frozenset({"reorder"}))
    api = Api(create_app(database, declared, clock=clock), token_of("admin"))
    lot = api.stock()["id"]
    assert api.get(PATH).status == 404
    refused = api.call("PATCH", PATH, POISSON, If_Match='"x"')
    assert (refused.status, "no thresholds are kept" in refused.body["detail"]) == (404, True)
    used(api, lot, 10)
    clock.now += timedelta(days=70)
    found = api.get("/v1/reorder?all=true").body
    assert "no thresholds are kept" in found["notes"][0]
    (line,) = found["lines"]
    assert (line["policy"], line["order_quantity"]) == (None, 0)
    assert "'keep_at_least' is not loaded" in line["why"]
