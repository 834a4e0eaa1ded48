"""The edge: signing in, scopes, conditional changes, repeated requests, paging, the Host header."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from flask import Flask
from openapi_spec_validator import validate

from conftest import NOW, Clock
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token, revoke_token
from support.api import BODY, Api

OPEN_TO_STRANGERS = {"/health/live", "/health/ready", "/openapi.json", "/docs"}


def test_nobody_is_anonymous_but_on_health_and_documentation(app: Flask) -> None:
    """Every route of the service refuses a stranger with 401, but for the few public ones."""
    stranger = Api(app, None)
    document = stranger.get("/openapi.json").body
    for path, operations in document["paths"].items():
        address = path.replace("{lot_id}", "1").replace("{reservation_id}", "1")
        address = address.replace("{number}", "X").replace("{name}", "X").replace("{code}", "X")
        for method in operations.keys() & {"get", "post", "patch"}:
            reply = stranger.call(method.upper(), address)
            assert reply.status == 401, (method, path)
            assert reply.headers["WWW-Authenticate"].startswith("Bearer ")
    assert stranger.get("/v1/nothing").status == 401
    for path in OPEN_TO_STRANGERS:
        assert stranger.get(path).status == 200


@pytest.mark.parametrize(
    "header", ["Bearer wrong", "Bearer ", "Basic YTpi", "bearer x" + "y" * 5000, "Bearer \u00fc"]
)
def test_wrong_tokens_are_refused(app: Flask, header: str) -> None:
    """A token that is not ours is answered with 401 and a problem document."""
    reply = Api(app, None).get("/v1/lots", Authorization=header)
    assert reply.status == 401
    assert reply.headers["Content-Type"] == "application/problem+json"


def test_token_ends_when_revoked_or_over(app: Flask, database: Database, clock: Clock) -> None:
    """A revoked token, and one whose time is over, are refused from that moment on."""
    week = NOW + timedelta(days=7)
    text = write(database, lambda s: new_token(s, "brief", "read", NOW, expires_at=week))
    assert Api(app, text).get("/v1/lots").status == 200
    clock.now = week
    assert Api(app, text).get("/v1/lots").status == 401
    clock.now = NOW
    write(database, lambda session: revoke_token(session, "brief", NOW))
    assert Api(app, text).get("/v1/lots").status == 401


def test_scopes_reach_as_far_as_they_say(app: Flask, token_of: Callable[[str], str]) -> None:
    """Read may look and calculate and no more; write may change; admin may do all of it."""
    reader, writer = Api(app, token_of("read")), Api(app, token_of("write"))
    admin = Api(app, token_of("admin"))
    assert reader.post("/v1/calculators/sac", BODY).status == 200
    assert reader.post("/v1/fits/sac", BODY).status == 200
    refused = reader.post("/v1/drawers", {"code": "A1"})
    assert refused.status == 403
    assert 'scope="write"' in refused.headers["WWW-Authenticate"]
    assert writer.post("/v1/drawers", {"code": "A1"}).status == 201
    change = {"value": "5 mm", "why": "our pens are long"}
    assert reader.patch("/v1/settings/sac.end_gap", change).status == 403
    assert writer.patch("/v1/settings/sac.end_gap", change).status == 200
    assert admin.post("/v1/drawers", {"code": "A2"}).status == 201


def test_actor_and_person_stand_on_every_movement(api: Api) -> None:
    """The ledger names the token, and the person where one was given."""
    lot = api.stock()
    api.post(
        f"/v1/lots/{lot['id']}/count", {"counted": 9, "note": "one lost"}, Sparewell_Person="Ada"
    )
    line = api.get("/v1/movements").body["movements"][-1]
    assert (line["verb"], line["change"]) == ("counted", -1)
    assert (line["actor"], line["person"], line["note"]) == ("a admin", "Ada", "one lost")


def test_change_needs_the_present_tag(api: Api) -> None:
    """PATCH without If-Match is 428, with a stale tag 412, with the present one 200."""
    api.stock()
    path = "/v1/parts/SAC-15-STR"
    tag = api.get(path).headers["ETag"]
    bare = api.call("PATCH", path, {"name": "x"})
    assert (bare.status, "ETag that a GET" in bare.body["detail"]) == (428, True)
    assert api.call("PATCH", path, {"name": "x"}, If_Match='"stale"').status == 412
    changed = api.call("PATCH", path, {"name": "x"}, If_Match=tag)
    assert (changed.status, changed.body["name"]) == (200, "x")
    assert api.call("PATCH", path, {"name": "y"}, If_Match=tag).status == 412
    assert changed.headers["ETag"] == api.get(path).headers["ETag"]
    assert api.get(path, If_None_Match=changed.headers["ETag"]).status == 304


def test_tag_of_a_lot_changes_with_its_balance(api: Api) -> None:
    """A promise changes what a lot shows, so an older tag no longer matches."""
    lot = api.stock()
    tag = api.get(f"/v1/lots/{lot['id']}").headers["ETag"]
    api.post(f"/v1/jobs/{api.job()}/reservations")
    reply = api.call("PATCH", f"/v1/lots/{lot['id']}", {"note": "x"}, If_Match=tag)
    assert reply.status == 412


@pytest.mark.parametrize("quoted", [False, True])
def test_repeat_with_its_key_is_given_the_first_answer(api: Api, *, quoted: bool) -> None:
    """The same key and body have one effect and one answer; another body is 422."""
    lot = api.stock()
    key = '"k-1"' if quoted else "k-1"
    job = api.job()
    path = f"/v1/jobs/{job}/reservations"
    body = {"lot": lot["id"], "quantity": 2}
    first = api.post(path, body, Idempotency_Key=key)
    second = api.post(path, body, Idempotency_Key="k-1")
    assert (first.status, second.status) == (201, 201)
    assert first.text == second.text
    assert second.headers["Idempotency-Replayed"] == "true"
    assert api.get(f"/v1/lots/{lot['id']}").body["promised"] == 2
    other = api.post(path, {"lot": lot["id"], "quantity": 3}, Idempotency_Key=key)
    assert other.status == 422
    assert other.body["type"].endswith("/idempotency-key-reused")


def test_refusal_is_kept_with_its_key_too(api: Api) -> None:
    """A repeat of a refused request is refused in the same words, even when it could succeed."""
    job = api.job()
    path = f"/v1/jobs/{job}/reservations"
    first = api.post(path, {}, Idempotency_Key="k")
    api.stock()
    second = api.post(path, {}, Idempotency_Key="k")
    assert (first.status, second.status) == (409, 409)
    assert first.text == second.text
    assert api.post(path, {}, Idempotency_Key="k2").status == 201


def test_key_belongs_to_one_token_and_one_path(
    app: Flask, api: Api, token_of: Callable[[str], str]
) -> None:
    """Another token, or another address, with the same key is another request."""
    other = Api(app, token_of("write"))
    assert api.post("/v1/drawers", {"code": "K1"}, Idempotency_Key="k").status == 201
    assert other.post("/v1/drawers", {"code": "K2"}, Idempotency_Key="k").status == 201
    lot = api.stock()
    path = f"/v1/lots/{lot['id']}/count"
    assert api.post(path, {"counted": 3}, Idempotency_Key="k").status == 200


@pytest.mark.parametrize("key", ["", "a b", "x" * 256, "\u00fc"])
def test_key_that_is_none_is_refused(api: Api, key: str) -> None:
    """A key that is empty, too long or not visible ASCII is a bad request."""
    assert api.post("/v1/drawers", {"code": "K1"}, Idempotency_Key=key).status == 400


def test_lists_come_a_page_at_a_time(api: Api) -> None:
    """Following `next` gives every row once; Link says the same (RFC 8288)."""
    for number in range(7):
        api.post("/v1/drawers", {"code": f"D{number}"})
    seen, path = [], "/v1/drawers?limit=3"
    while path:
        page = api.get(path)
        seen += [drawer["code"] for drawer in page.body["drawers"]]
        path = page.body["next"]
        assert page.headers.get("Link") == (f'<{path}>; rel="next"' if path else None)
    assert seen == [f"D{number}" for number in range(7)]


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("localhost", 200),
        ("localhost:8417", 200),
        ("127.0.0.1:1", 200),
        ("[::1]:8417", 200),
        ("LOCALHOST", 200),
        ("evil.example", 400),
        ("localhost.evil.example", 400),
        ("localhost@evil.example", 400),
        ("localhost, evil.example", 400),
        ("localhost:port", 400),
        ("", 400),
    ],
)
def test_only_our_own_names_are_answered(app: Flask, host: str, status: int) -> None:
    """A request for another name is refused before routing: DNS rebinding (RFC 9112 3.2)."""
    answer = app.test_client().get("/health/live", headers={"Host": host})
    assert answer.status_code == status


def test_security_headers_stand_on_every_answer(api: Api) -> None:
    """Answers are not cached, not sniffed and run no script."""
    for path in ("/v1/lots", "/v1/nothing"):
        headers = api.get(path).headers
        assert headers["Cache-Control"] == "no-store"
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Content-Security-Policy"].startswith("default-src 'none'")


def test_method_that_is_not_there_says_which_are(api: Api) -> None:
    """405 comes with Allow (RFC 9110 section 15.5.6)."""
    reply = api.call("DELETE", "/v1/lots/1")
    assert reply.status == 405
    assert "GET" in reply.headers["Allow"]


def test_openapi_document_is_valid_and_whole(api: Api) -> None:
    """The document validates as OpenAPI 3.1, and every error in it is a problem document."""
    document = api.get("/openapi.json").body
    validate(document)
    assert document["openapi"].startswith("3.1")
    for path, operations in document["paths"].items():
        for method in operations.keys() & {"get", "post", "patch"}:
            for status, response in operations[method]["responses"].items():
                if int(status) >= 400:
                    name = response["$ref"].rsplit("/", 1)[1]
                    content = document["components"]["responses"][name]["content"]
                    assert set(content) == {"application/problem+json"}, (path, method, status)
    assert "/v1/calculators/sac" in document["paths"]
    assert "/v1/fits/sac" in document["paths"]
    assert "/v1/calculators/{name}" in document["paths"]
    assert "post" not in document["paths"]["/v1/calculators/{name}"]


def test_documentation_can_be_browsed_offline(app: Flask) -> None:
    """The page and all it loads come from this server, under a policy without inline script."""
    stranger = app.test_client()
    page = stranger.get("/docs")
    assert b"<script>" not in page.data
    assert b"//" not in page.data.replace(b"<!doctype html>", b"").replace(b"</", b"<")
    for file in ("swagger-ui.css", "swagger-ui-bundle.js", "start.js"):
        answer = stranger.get(f"/docs/{file}")
        assert (answer.status_code, len(answer.data) > 20) == (200, True)
        answer.close()
    assert stranger.get("/docs/index.html").status_code == 404
    assert "script-src" not in page.headers["Content-Security-Policy"]


def test_setting_changes_answers_and_keeps_its_reason(api: Api) -> None:
    """A changed setting is used at once, is shown with who and why, and is in each answer."""
    before = api.post("/v1/calculators/sac", BODY | {"tenon_length": "8 mm"}).body
    change = {"value": "6 mm", "why": "crook stands high in our pens"}
    changed = api.patch("/v1/settings/sac.end_gap", change)
    assert (changed.status, changed.body["value"], changed.body["default"]) == (200, 6.0, 4.0)
    assert changed.body["why"] == change["why"]
    after = api.post("/v1/calculators/sac", BODY | {"tenon_length": "8 mm"}).body
    assert before["result"]["cut_length"] - after["result"]["cut_length"] == 2
    used = {setting["name"]: setting["value"] for setting in after["settings"]}
    assert used["sac.end_gap"] == 6.0
    for bad in ({"value": "-1 mm", "why": "x"}, {"value": "6 mm"}, {"value": None, "why": "x"}):
        assert api.patch("/v1/settings/sac.end_gap", bad).status == 422


def test_unready_database_says_so(app: Flask, database: Database) -> None:
    """Readiness is 503 when the tables are not those of this program, and liveness stays 200."""
    stranger = Api(app, None)
    assert stranger.get("/health/ready").status == 200
    with database.writer.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version_core SET version_num = '0000'")
    assert stranger.get("/health/ready").status == 503
    assert stranger.get("/health/live").status == 200
