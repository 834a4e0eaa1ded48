"""Who may have a page, how long, and what becomes of a form when they may not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask

from conftest import Clock
from sparewell.bench.pages import COOKIE, POLICY
from sparewell.bench.sessions import LASTS
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token, revoke_token
from support.api import Api
from support.bench import Bench

DRAWER = {"code": "Z9", "note": "left of the lamp"}


@pytest.fixture
def stranger(app: Flask) -> Bench:
    """A browser that nobody signed in."""
    return Bench(app, None)


def test_whoever_is_not_signed_in_comes_back_to_the_page_they_wanted(
    stranger: Bench, token_of: Callable[[str], str]
) -> None:
    """The sign-in page remembers the address, with its readings, and opens it afterwards."""
    asked = stranger.get("/measure/sac?nipple_diameter=6.4+mm")
    assert (asked.path, asked.status) == ("/sign-in", 200)
    opened = stranger.send(asked, "/sign-in", token=token_of("write"))
    assert opened.path == "/measure/sac"
    assert opened.forms[0]["nipple_diameter"] == "6.4 mm"


def test_a_wrong_token_opens_nothing(stranger: Bench) -> None:
    """The page asks again, says why, and sets no cookie."""
    page = stranger.sign_in("spare-nonsense")
    assert page.status == 401
    assert "not known" in page.problems[0]
    assert stranger.client.get_cookie(COOKIE) is None


def test_guessing_at_the_page_is_slowed_down_like_guessing_at_the_api(stranger: Bench) -> None:
    """After twenty wrong tokens the page answers 429 and says how long to wait."""
    pages = [stranger.sign_in(f"spare-{number}") for number in range(21)]
    assert [page.status for page in pages[:20]] == [401] * 20
    assert pages[20].status == 429
    assert int(pages[20].headers["Retry-After"]) > 0


def test_the_cookie_is_kept_from_scripts_and_from_other_sites(bench: Bench) -> None:
    """It is HttpOnly and SameSite, and is none of the tokens."""
    cookie = bench.client.get_cookie(COOKIE)
    assert cookie is not None
    assert (cookie.http_only, cookie.same_site) == (True, "Lax")
    assert not cookie.value.startswith("spare-")


def test_signing_out_ends_the_session_in_the_database_too(bench: Bench) -> None:
    """A copy of the cookie is worth nothing afterwards."""
    cookie = bench.client.get_cookie(COOKIE)
    assert cookie is not None
    bench.send(bench.get("/more"), "/sign-out", "Sign out")
    bench.client.set_cookie(COOKIE, cookie.value)
    assert bench.get("/measure").path == "/sign-in"


def test_a_session_ends_by_itself_and_with_its_token(
    app: Flask, clock: Clock, database: Database, token_of: Callable[[str], str]
) -> None:
    """After a fortnight, or when the token is revoked, one has to sign in again."""
    revoked, old = Bench(app, token_of("write")), Bench(app, token_of("read"))
    write(database, lambda session: revoke_token(session, "a write", clock.now))
    assert revoked.get("/measure").path == "/sign-in"
    clock.now += LASTS - timedelta(seconds=1)
    assert old.get("/measure").path == "/measure"
    clock.now += timedelta(seconds=1)
    assert old.get("/measure").path == "/sign-in"


def test_nothing_typed_is_lost_when_the_session_is_over(
    bench: Bench, api: Api, clock: Clock, database: Database
) -> None:
    """The form waits behind the sign-in, is shown, and does its work when it is sent again."""
    fresh = write(database, lambda session: new_token(session, "fresh", "write", clock.now))
    typed = {"filling_system": "lever", "called": "olive pen", "reading:barrel_bore": "8,0 mm"}
    clock.now += LASTS
    asked = bench.post("/pens/new", typed)
    assert (asked.status, "nothing you typed is lost" in asked.text) == (401, True)
    assert api.get("/v1/pens").body["pens"] == []
    shown = bench.send(asked, "/sign-in", token=fresh)
    assert "olive pen" in shown.text
    assert "8,0 mm" in shown.text
    assert api.get("/v1/pens").body["pens"] == [], "nothing is sent unasked"
    bench.send(shown, "/pens/new")
    (pen,) = api.get("/v1/pens").body["pens"]
    assert pen["readings"]["barrel_bore"]["entered"] == "8,0 mm"


def test_a_form_of_another_session_is_asked_for_again(bench: Bench, api: Api) -> None:
    """A forged or old form changes nothing, and what was typed is shown."""
    page = bench.post("/pens/new", filling_system="lever", called="forged", form_token="0" * 64)
    assert page.status == 401
    assert "forged" in page.text
    assert api.get("/v1/pens").body["pens"] == []


def test_only_our_own_addresses_are_gone_on_to(app: Flask, token_of: Callable[[str], str]) -> None:
    """A crafted sign-in link cannot send anybody elsewhere."""
    token = token_of("write")
    for crafted in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"):
        client = app.test_client()
        sent = client.post("/sign-in", data={"token": token, "person": "", "to": crafted})
        assert (sent.status_code, sent.headers["Location"]) == (303, "/")


def test_whoever_may_only_read_is_told_so(
    app: Flask, api: Api, token_of: Callable[[str], str]
) -> None:
    """Pages open, and a form that would change something says which token it needs."""
    reader = Bench(app, token_of("read"))
    assert reader.get("/measure").status == 200
    page = reader.post("/pens/new", filling_system="lever", called="olive")
    assert page.status == 403
    assert "write" in page.problems[0]
    assert api.get("/v1/pens").body["pens"] == []


def test_the_person_stands_in_the_ledger(bench: Bench, api: Api) -> None:
    """What is done at the page is noted with the token's name and the person's."""
    job, lot = api.job(), api.stock()["id"]
    bench.post(f"/jobs/{job}/reserve", lot=lot)
    (reservation,) = api.get("/v1/reservations").body["reservations"]
    assert (reservation["actor"], reservation["person"]) == ("a write", "Odra")


def test_every_page_has_its_policy(bench: Bench) -> None:
    """No page runs a script of its own, is framed, or is kept by the browser."""
    for path in ("/measure", "/jobs", "/more", "/settings", "/nothing-here"):
        page = bench.get(path, Accept="text/html")
        assert page.headers["Content-Security-Policy"] == POLICY
        assert page.headers["Cache-Control"] == "no-store"
        assert "'unsafe-inline'" not in POLICY


def test_an_address_that_is_none_is_told_on_a_page_to_a_person_only(bench: Bench, api: Api) -> None:
    """A browser gets a page with the status 404, a program its problem document."""
    page = bench.get("/drawer", Accept="text/html")
    assert (page.status, page.headers["Content-Type"][:9]) == (404, "text/html")
    assert api.get("/drawer").body["status"] == 404


def test_the_light_is_chosen_and_remembered(bench: Bench) -> None:
    """Lamplight stays until the device's own light is asked for again."""
    more = bench.send(bench.get("/more"), "/look", "Lamplight")
    assert more.path == "/more"
    assert 'data-look="lamplight"' in bench.get("/jobs").html
    bench.send(bench.get("/more"), "/look", "As the device has it")
    assert "data-look" not in bench.get("/jobs").html
