"""A form is one unit of work: done once however often it is sent, and wholly or not at all."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from flask import Flask
from sqlalchemy import select

from conftest import Clock
from sparewell.bench.sessions import LASTS
from sparewell.database.engine import Database
from sparewell.database.transaction import Silent, read
from sparewell.edge import unit_of_work
from sparewell.edge.tables import KeptAnswer
from support.api import Api
from support.bench import Bench

DRAWER = {"code": "Z9", "note": "left of the lamp", "form_key": "one"}


def kept(database: Database) -> list[tuple[int | None, str]]:
    """What is kept for repeats: each answer's status, and where it sends."""
    with read(database) as session:
        rows = session.scalars(select(KeptAnswer).where(KeptAnswer.path == "/drawers"))
        return [(row.status, row.headers["Location"]) for row in rows]


def test_what_is_kept_for_a_repeat_is_where_the_browser_was_sent(
    bench: Bench, database: Database
) -> None:
    """The second press of a form leads where the first did, and makes nothing anew."""
    for _ in range(2):
        page = bench.post("/drawers", DRAWER)
        assert (page.status, page.path) == (200, "/drawers/Z9")
    assert kept(database) == [(303, "/drawers/Z9?said=drawer")]


def test_a_form_with_the_same_key_and_other_words_is_another_form(bench: Bench, api: Api) -> None:
    """All forms of a page carry one key: what they hold tells them apart."""
    bench.post("/drawers", DRAWER)
    bench.post("/drawers", DRAWER, code="Z8")
    assert [each["code"] for each in api.get("/v1/drawers").body["drawers"]] == ["Z9", "Z8"]


def test_a_refused_form_leaves_nothing_behind(bench: Bench, api: Api, database: Database) -> None:
    """Nothing is kept of it, so that the very same form works once nothing is in the way."""
    lot = api.stock(quantity=2)["id"]
    job = api.job()
    body = {"lot": lot, "quantity": 2, "override": "tried"}
    made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]["id"]
    form = {"discard-quantity": "2", "discard-note": "split", "form_key": "one"}
    refused = bench.post(f"/bags/{lot}/discard", form)
    assert refused.status == 409
    assert kept(database) == []
    api.post(f"/v1/reservations/{made}/release")
    assert "Thrown away" in bench.post(f"/bags/{lot}/discard", form).text
    assert api.get(f"/v1/lots/{lot}").body["in_hand"] == 0


def test_a_form_is_done_wholly_or_not_at_all(bench: Bench, api: Api) -> None:
    """A new part whose bag is refused is not left in the catalogue, nor a pen without its piece."""
    api.stock()
    new = {"part": "SAC-16", "kind": "sac", "drawer": "A3", "quantity": "0"}
    assert bench.post("/receive", new).status == 422
    assert api.get("/v1/parts/SAC-16").status == 404
    for_whom = {"job": "new", "called": "red", "filling_system": "lever", "lot": "99"}
    refused = bench.post("/measure/sac", for_whom)
    assert refused.status == 422
    assert "there is no bag 99" in refused.text
    assert api.get("/v1/pens").body["pens"] == []


def test_a_key_goes_along_through_the_sign_in(
    app: Flask, api: Api, clock: Clock, token_of: Callable[[str], str]
) -> None:
    """A form that was done, and is sent again after the session is over, is still done once."""
    token = token_of("write")
    bench, lot = Bench(app, token), api.stock(quantity=5)["id"]
    form = {"discard-quantity": "1", "discard-note": "split", "form_key": "one"}
    bench.post(f"/bags/{lot}/discard", form)
    clock.now += LASTS
    asked = bench.post(f"/bags/{lot}/discard", form)
    assert asked.status == 401
    shown = bench.send(asked, "/sign-in", token=token)
    assert shown.form(f"/bags/{lot}/discard")["form_key"] == "one"
    bench.send(shown, f"/bags/{lot}/discard", "Send it")
    assert api.get(f"/v1/lots/{lot}").body["in_hand"] == 4


def test_an_outcome_that_nobody_knows_is_sent_again_under_its_key(
    bench: Bench, api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the database fell silent, what was typed is offered once more, with the same key."""

    def silent(*_arguments: object) -> None:
        raise Silent

    with monkeypatch.context() as patched:
        patched.setattr(unit_of_work, "write", silent)
        page = bench.post("/drawers", DRAWER)
    assert page.status == 503
    assert page.form("/drawers")["form_key"] == "one"
    assert bench.send(page, "/drawers", "Send it again").path == "/drawers/Z9"
    assert len(api.get("/v1/drawers").body["drawers"]) == 1
