"""Strangers: guessed tokens, pages of other origins, and what every answer carries."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import replace

import pytest
from flask import Flask

from sparewell.edge.context import EXTENSION
from sparewell.edge.throttle import MOST_ADDRESSES, FailedAttempts
from sparewell.edge.tokens import digest_of
from support.api import Api

ALLOWANCE = 5
SECONDS = 3.0


class Stopwatch:
    """A stopwatch that stands until it is moved."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def stopwatch(app: Flask) -> Stopwatch:
    """The stopwatch by which this service counts failures, five at once."""
    made = Stopwatch()
    attempts = FailedAttempts(at_once=ALLOWANCE, seconds_per_further_one=SECONDS, stopwatch=made)
    app.extensions[EXTENSION] = replace(app.extensions[EXTENSION], failed_attempts=attempts)
    return made


def guess(app: Flask, token: str = "spare-guess") -> int:  # noqa: S107 - a wrong one
    """Ask with a token, and return the status."""
    return Api(app, token).get("/v1/kinds").status


@pytest.mark.usefixtures("stopwatch")
def test_guesses_are_slowed_down(app: Flask) -> None:
    """After its allowance an address hears 429, with how long to wait, as a problem document."""
    assert [guess(app) for _ in range(ALLOWANCE + 1)] == [401] * ALLOWANCE + [429]
    reply = Api(app, "spare-guess").get("/v1/kinds")
    assert reply.status == 429
    assert reply.headers["Retry-After"] == "3"
    assert reply.body["type"].endswith("/too-many-attempts")


def test_the_allowance_comes_back(app: Flask, stopwatch: Stopwatch) -> None:
    """One more guess is let through after each interval, and the whole allowance in the end."""
    for _ in range(ALLOWANCE):
        guess(app)
    stopwatch.now += SECONDS
    assert [guess(app), guess(app)] == [401, 429]
    stopwatch.now += SECONDS * ALLOWANCE
    assert [guess(app) for _ in range(ALLOWANCE + 1)] == [401] * ALLOWANCE + [429]


@pytest.mark.usefixtures("stopwatch")
def test_a_right_token_is_never_slowed_down(app: Flask, token_of: Callable[[str], str]) -> None:
    """One that this process has not seen is served in the midst of guesses from its address."""
    right = token_of("read")
    for _ in range(ALLOWANCE * 3):
        guess(app)
    assert [guess(app), guess(app, right), guess(app)] == [429, 200, 429]


@pytest.mark.usefixtures("stopwatch")
def test_the_bench_goes_on_beside_a_script_with_an_old_token(
    app: Flask, token_of: Callable[[str], str]
) -> None:
    """A token that was good before is served from the same address all the while."""
    right = token_of("read")
    assert guess(app, right) == 200
    for _ in range(ALLOWANCE * 3):
        guess(app)
    assert guess(app) == 429
    assert guess(app, right) == 200


@pytest.mark.usefixtures("stopwatch")
def test_addresses_are_counted_apart_and_an_ipv6_network_as_one(app: Flask) -> None:
    """Another address has its own allowance; addresses of one /64 share theirs."""

    def ask(address: str) -> int:
        answer = app.test_client().get(
            "/v1/kinds",
            headers={"Authorization": "Bearer x"},
            environ_base={"REMOTE_ADDR": address},
        )
        return answer.status_code

    assert [ask("192.0.2.1") for _ in range(ALLOWANCE + 1)][-1] == 429
    assert ask("192.0.2.2") == 401
    assert [ask(f"2001:db8::{number}") for number in range(ALLOWANCE + 1)][-1] == 429
    assert ask("2001:db8:0:1::1") == 401


def test_what_is_remembered_of_strangers_is_bounded() -> None:
    """A flood from ever new addresses takes no more memory than a limit."""
    attempts = FailedAttempts()
    for number in range(MOST_ADDRESSES + 50):
        attempts.failed(f"10.{number >> 16 & 255}.{number >> 8 & 255}.{number & 255}")
    assert len(attempts._whole_at) == MOST_ADDRESSES


@pytest.mark.usefixtures("stopwatch")
def test_a_request_without_a_token_is_no_guess(app: Flask) -> None:
    """Asking without any token is 401 however often."""
    assert {Api(app, None).get("/v1/kinds").status for _ in range(ALLOWANCE * 3)} == {401}


def test_digests_are_compared_in_constant_time(
    app: Flask, token_of: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the database found is compared once more with the constant-time comparison."""
    right, compared = token_of("read"), []

    def compare(one: str, other: str) -> bool:
        compared.append((one, other))
        return False

    monkeypatch.setattr(hmac, "compare_digest", compare)
    assert guess(app, right) == 401
    assert compared == [(digest_of(right).hex(),) * 2]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"Origin": "http://localhost"}, 200),
        ({"Origin": "https://localhost"}, 200),
        ({"Origin": "http://localhost:80"}, 200),
        ({"Origin": "http://localhost:8080"}, 403),
        ({"Origin": "http://127.0.0.1"}, 403),
        ({"Origin": "http://evil.lan"}, 403),
        ({"Origin": "http://localhost.evil.lan"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": ""}, 403),
        ({"Origin": "ftp://localhost"}, 403),
        ({"Sec-Fetch-Site": "same-origin"}, 200),
        ({"Sec-Fetch-Site": "none"}, 200),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}, 200),
        ({"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost"}, 403),
    ],
    ids=str,
)
def test_pages_of_other_origins_are_kept_out(
    api: Api, headers: dict[str, str], status: int
) -> None:
    """A page of another origin is refused by what its browser says, a link to us is followed."""
    sent = {name.replace("-", "_"): value for name, value in headers.items()}
    assert api.get("/v1/kinds", **sent).status == status


def test_a_form_of_another_page_changes_nothing(api: Api) -> None:
    """Even a navigation from elsewhere may not send a POST, and its preflight is answered 403."""
    link = {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate"}
    assert api.post("/v1/drawers", {"code": "A1"}, **link).status == 403
    asked = api.call("OPTIONS", "/v1/drawers", Origin="http://evil.lan")
    assert asked.status == 403
    assert "Access-Control-Allow-Origin" not in asked.headers
    assert api.get("/v1/drawers").body["drawers"] == []


@pytest.mark.parametrize("path", ["/v1/kinds", "/v1/nothing", "/health/live", "/docs"])
@pytest.mark.parametrize("host", ["localhost", "evil.lan"])
def test_every_answer_carries_the_careful_headers(api: Api, path: str, host: str) -> None:
    """Whatever is answered, to whomever, has the headers that keep browsers careful."""
    headers = api.get(path, Host=host).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
    assert len(headers.getlist("Content-Security-Policy")) == 1
    assert "Access-Control-Allow-Origin" not in headers


def test_every_answer_has_a_number_of_its_own(api: Api) -> None:
    """Each answer carries its request's number, a problem document the same one inside."""
    numbers = [api.get("/v1/kinds").headers["Sparewell-Request"] for _ in range(50)]
    assert len(set(numbers)) == 50
    for headers in ({}, {"Host": "evil.lan"}, {"Authorization": "Bearer x"}):
        reply = api.get("/v1/nothing", **headers)
        assert reply.status >= 400
        assert reply.body["request"] == reply.headers["Sparewell-Request"]
