"""Promises that move aside, so that another job has its piece and none loses cover."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from flask import Flask

from conftest import Clock
from sparewell.database.engine import Database
from sparewell.edge import unit_of_work
from support.api import Api
from support.moving import P15, P16, P17, P18, ask, held_by, promise_of, sac
from support.statements import counted_apart

pytestmark = pytest.mark.differs


def test_a_promise_moves_to_a_piece_that_fits_no_worse(api: Api) -> None:
    """Whoever takes nothing else has its piece, the other has another, and both are promised."""
    fifteen, large, small = sac(api, 15), api.job(**P16), api.job(**P15)
    before = held_by(api, large)
    sixteen = sac(api, 16)
    reply = ask(api, small)
    (made,) = reply.body["reservations"]
    assert (reply.status, made["lot"], made["state"]) == (201, fifteen, "held")
    (moved,) = reply.body["moved"]
    after = promise_of(api, moved["moved_to"])
    assert moved == {
        "reservation": before["id"],
        "job": large,
        "lot": fifteen,
        "moved_to": after["id"],
        "to_lot": sixteen,
        "moved_for": small,
        "at": after["created_at"],
    }
    assert (after["job"], after["need"], after["lot"]) == (large, before["need"], sixteen)
    ended = promise_of(api, before["id"])
    assert (ended["state"], ended["settled"], ended["promised"]) == ("settled", 1, 0)
    assert (ended["moved_to"], ended["moved_for"]) == (after["id"], small)
    assert {need["state"] for need in api.get(f"/v1/jobs/{large}").body["needs"]} >= {"promised"}
    assert [api.get(f"/v1/lots/{lot}").body["promised"] for lot in (fifteen, sixteen)] == [1, 1]


def test_what_was_noted_of_a_promise_goes_along(api: Api, clock: Clock) -> None:
    """The note, the person and the end are those of before; the verdict is on the new piece."""
    sac(api, 15)
    large, small = api.job(**P16), api.job(**P15)
    before = held_by(api, large, "Ana", note="for Friday", expires_in=90)
    sac(api, 16)
    clock.now += timedelta(minutes=30)
    (moved,) = ask(api, small, "Ana").body["moved"]
    after = promise_of(api, moved["moved_to"])
    for name in ("note", "person", "expires_at", "need", "job", "quantity"):
        assert after[name] == before[name], name
    assert after["created_at"] > before["created_at"]
    assert "6.35 mm" in after["why"]


def test_a_chain_is_two_deep(api: Api) -> None:
    """The first moves to what the second has, and that one to what is free."""
    sizes = [sac(api, 15)]
    first = held_by(api, api.job(**P16))
    sizes.append(sac(api, 16))
    second = held_by(api, api.job(**P17))
    sizes.append(sac(api, 17))
    reply = ask(api, api.job(**P15))
    assert [row["lot"] for row in reply.body["reservations"]] == sizes[:1]
    moved = {each["reservation"]: each["to_lot"] for each in reply.body["moved"]}
    assert moved == {first["id"]: sizes[1], second["id"]: sizes[2]}


def test_a_chain_is_not_three_deep(api: Api) -> None:
    """Where a third would have to move nothing does, and the refusal says what was tried."""
    held = []
    for size, pen in ((15, P16), (16, P17), (17, P18)):
        sac(api, size)
        held.append(held_by(api, api.job(**pen)))
    sac(api, 18)
    reply = ask(api, api.job(**P15))
    assert reply.status == 409
    tried = [each for each in reply.body["errors"] if "reservation" in each]
    assert [each["reservation"] for each in tried] == [held[1]["id"], held[0]["id"]]
    assert all("nothing else that could be had" in each["detail"] for each in tried)
    assert all(promise_of(api, each["id"])["state"] == "held" for each in held)


def test_a_named_bag_is_freed_likewise(api: Api) -> None:
    """Pieces of a bag that a person names come free, and only as many promises move as must."""
    lot, other = sac(api, 15, 3), api.job()
    for _ in range(3):
        held_by(api, api.job())
    sac(api, 15, 2)
    reply = ask(api, other, lot=lot, quantity=2)
    assert [row["quantity"] for row in reply.body["reservations"]] == [2]
    assert len(reply.body["moved"]) == 2
    reply = ask(api, api.job(), lot=lot)
    assert reply.status == 409
    assert reply.body["errors"][0]["pointer"] == "/quantity"
    assert "pinned" in reply.body["errors"][1]["detail"]


@pytest.mark.parametrize(
    ("instead", "why"),
    [
        ({"measured": {}}, "a nominal size"),
        ({"made_on": "2021-12-10"}, "over age on the promised day"),
        ({"size": 15}, "further from the recommended size"),
        ({"material": "pvc"}, "a material that the filling system does not name"),
    ],
)
def test_nothing_moves_to_a_piece_that_is_worse_in_anything(
    api: Api, instead: dict[str, Any], why: str
) -> None:
    """A promise stays where the only other piece is of a lesser class."""
    kept, job = sac(api, 16, made_on="2026-01-01"), api.job(**P16)
    assert api.patch(f"/v1/jobs/{job}", {"promised_on": "2027-01-15"}).status == 200
    held_by(api, job)
    sac(api, **{"size": 16, "made_on": "2026-01-01", **instead})
    assert ask(api, api.job(**P16), lot=kept).status == 409, why
    sac(api, 16, made_on="2026-01-01")
    assert ask(api, api.job(**P16), lot=kept).status == 201


def test_a_donor_s_piece_is_no_place_to_move_to_from_a_drawer(api: Api) -> None:
    """A piece that has to be taken out of a donor is further away than one in a drawer."""
    kept = sac(api, 15)
    held_by(api, api.job())
    measured = {"outside_diameter": "5.9 mm", "inside_diameter": "5.05 mm", "length": "75 mm"}
    part = {"kind": "sac", "state": "present", "measured": measured, "material": "latex"}
    assert api.post("/v1/donors", {"called": "wreck", "components": [part]}).status == 201
    assert ask(api, api.job(), lot=kept).status == 409


def test_what_is_pinned_or_in_the_tray_stays(api: Api) -> None:
    """A named bag is pinned by itself, and so is an overridden one; the rest a person pins."""
    lot, other = sac(api, 15, 3), sac(api, 15, 4)
    named = held_by(api, api.job(), lot=lot, quantity=1)
    fetched, pinned = (held_by(api, api.job(), lot=lot, quantity=1) for _ in range(2))
    assert named["pinned"]
    for row in (fetched, pinned):
        changed = api.patch(f"/v1/reservations/{row['id']}", {"pinned": False})
        assert (changed.status, changed.body["pinned"]) == (200, False)
    api.post(f"/v1/reservations/{fetched['id']}/fetch")
    api.patch(f"/v1/reservations/{pinned['id']}", {"pinned": True})
    reply = ask(api, api.job(), lot=lot)
    said = {each["reservation"]: each["detail"] for each in reply.body["errors"][1:]}
    assert "pinned, as a admin promised it" in said[named["id"]]
    assert "pinned" in said[pinned["id"]]
    assert "in the tray" in said[fetched["id"]]
    api.patch(f"/v1/reservations/{pinned['id']}", {"pinned": False})
    reply = ask(api, api.job(), lot=lot)
    assert [each["to_lot"] for each in reply.body["moved"]] == [other]


def test_only_promises_of_one_person_move_unasked(api: Api) -> None:
    """`mine` is the default, `any` asks for everybody's, and false moves nothing."""
    sac(api, 15)
    before = held_by(api, api.job(**P16), "Ana")
    sac(api, 16)
    job = api.job(**P15)
    for person, said in (("Ben", {}), (None, {"move": "mine"}), ("Ana", {"move": False})):
        reply = ask(api, job, person, **said)
        assert reply.status == 409, (person, said)
        tried = [each["detail"] for each in reply.body["errors"] if "reservation" in each]
        assert ["another person (Ana)" in each for each in tried] == [True] * (
            said != {"move": False}
        )
    reply = ask(api, job, "Ben", move="any")
    assert [each["reservation"] for each in reply.body["moved"]] == [before["id"]]


@pytest.mark.parametrize("move", [True, None, "yours", 1, []])
def test_what_may_move_is_one_of_three_words(api: Api, move: Any) -> None:
    """Anything else is refused with what would be accepted."""
    reply = ask(api, api.job(), move=move)
    assert reply.status == 422
    (error,) = reply.body["errors"]
    assert error["pointer"] == "/move"
    assert move is None or '"any" or false' in error["detail"]


def test_a_promise_may_carry_its_own_end(api: Api, clock: Clock) -> None:
    """It lapses after so many minutes instead of after the workshop's time; nonsense is refused."""
    lot, job = sac(api, 15), api.job()
    setting = "/v1/settings/stock.hold_lapses_after_hours"
    assert api.patch(setting, {"value": 48, "why": "two days"}).status == 200
    for nonsense in (0, -5, 1.5, "an hour", 10**9):
        refused = ask(api, job, expires_in=nonsense)
        assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/expires_in")
        assert "a whole number of minutes from 1 to" in refused.body["errors"][0]["detail"]
    row = held_by(api, job, expires_in=20)
    assert row["expires_at"] == "2026-11-25T12:20:00.000Z"
    clock.now += timedelta(minutes=21)
    assert held_by(api, api.job())["lot"] == lot
    assert promise_of(api, row["id"])["state"] == "lapsed"
    later = held_by(api, job, lot=sac(api, 15), expires_in=15)
    assert later["expires_at"] == "2026-11-25T12:36:00.000Z"


def test_several_needs_are_had_together_or_not_at_all(api: Api) -> None:
    """Where one promise could move and that is not enough, it stays, and the answer says so."""
    lot = sac(api, 15, 2)
    first = held_by(api, api.job())
    held_by(api, api.job(), lot=lot)
    sac(api, 15)
    reply = ask(api, api.job(), lot=lot, quantity=2)
    assert reply.status == 409
    said = {each["reservation"]: each["detail"] for each in reply.body["errors"][1:]}
    assert "it could move aside, which is not enough" in said[first["id"]]
    assert promise_of(api, first["id"])["state"] == "held"


@pytest.mark.parametrize(
    "change",
    [
        lambda other, row: other.post(f"/v1/reservations/{row}/fetch"),
        lambda other, row: other.patch(f"/v1/reservations/{row}", {"pinned": True}),
        lambda other, row: other.post(f"/v1/reservations/{row}/use"),
    ],
    ids=["fetched", "pinned", "used"],
)
def test_a_promise_that_changed_meanwhile_does_not_move(
    app: Flask, api: Api, monkeypatch: pytest.MonkeyPatch, change: Callable[[Api, int], Any]
) -> None:
    """What was found out beforehand is looked at again under the lock, and worked out anew."""
    sac(api, 15)
    before = held_by(api, api.job(**P16))["id"]
    sac(api, 16)
    job, other, left = api.job(**P15), Api(app, api.token), [1]
    stop_reading = unit_of_work.stop_reading

    def stop() -> None:
        stop_reading()
        if left.pop() if left else 0:
            somebody = threading.Thread(target=change, args=(other, before))
            somebody.start()
            somebody.join()

    monkeypatch.setattr(unit_of_work, "stop_reading", stop)
    reply = ask(api, job)
    assert (reply.status, promise_of(api, before)["settled"]) == (409, 0), reply.text


def test_a_chain_takes_no_calculator_and_few_statements_under_the_lock(
    api: Api, database: Database
) -> None:
    """One move takes sixteen statements at most, and what needs none takes no more than before."""
    sac(api, 15)
    held_by(api, api.job(**P16))
    sac(api, 16)
    job = api.job(**P15)
    with counted_apart(database) as (_, writing):
        assert ask(api, job).status == 201
    assert len(writing) <= 16, writing


@pytest.mark.rest
def test_no_more_promises_are_looked_at_than_a_person_would_read(
    api: Api, database: Database
) -> None:
    """Of very many that stay two dozen are named, and the statements do not grow with the rest."""
    held_by(api, api.job(), lot=sac(api, 15))
    asker, counts = api.job(), []
    for many in (30, 60):
        while len(api.get("/v1/reservations?state=held&limit=500").body["reservations"]) < many:
            held_by(api, api.job(), lot=sac(api, 15))
        with counted_apart(database) as (reading, _):
            reply = ask(api, asker)
        counts.append(len(reading))
        tried = [each for each in reply.body["errors"] if "reservation" in each]
        assert (reply.status, len(tried)) == (409, 24)
        assert reply.body["errors"][-1]["detail"] == "further promises were not looked at"
    assert counts[0] == counts[1] < 40
