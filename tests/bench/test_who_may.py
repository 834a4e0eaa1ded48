"""Every page and form of the bench, and who may have it. One not in the table is a failure."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import urlsplit

import pytest
from flask import Flask

from sparewell.edge.scopes import scope_needed
from support.bench import Bench

# everybody: no session. read: a page, for any session. any: a form that every session may send.
# write: a form that does something, refused to a token that only reads.
TABLE = {
    "GET /": "read",
    "GET /bags/<bag>": "read",
    "POST /bags/<bag>/<act>": "write",
    "POST /bags/<bag>/says": "write",
    "POST /bags/<bag>/undo": "write",
    "GET /bench/<name>": "everybody",
    "GET /donors": "read",
    "GET /donors/<number>": "read",
    "POST /donors/<number>/add": "write",
    "POST /donors/<number>/looked": "write",
    "POST /donors/<number>/strip": "write",
    "GET /donors/new": "read",
    "POST /donors/new": "write",
    "GET /drawers": "read",
    "POST /drawers": "write",
    "GET /drawers/<code>": "read",
    "GET /drawers/<code>/count": "read",
    "POST /drawers/<code>/count": "write",
    "GET /find": "read",
    "GET /jobs": "read",
    "GET /jobs/ended": "read",
    "GET /jobs/<number>": "read",
    "POST /jobs/<number>/agree": "write",
    "POST /jobs/<number>/cancel": "write",
    "POST /jobs/<number>/close": "write",
    "POST /jobs/<number>/moved-back/<reservation>": "write",
    "POST /jobs/<number>/moved/<reservation>": "write",
    "POST /jobs/<number>/needs/<need>": "write",
    "POST /jobs/<number>/put-back/<lot>": "write",
    "POST /jobs/<number>/readings": "write",
    "POST /jobs/<number>/reservations/<reservation>": "write",
    "POST /jobs/<number>/reserve": "write",
    "POST /jobs/<number>/sold": "write",
    "POST /jobs/<number>/steps/<position>": "write",
    "POST /jobs/<number>/timers": "write",
    "GET /labels": "read",
    "POST /labels": "any",
    "GET /labels/page.css": "read",
    "GET /labels/sheet": "read",
    "POST /look": "any",
    "GET /learned": "read",
    "GET /measure": "read",
    "GET /measure/<name>": "read",
    "POST /measure/<name>": "write",
    "GET /more": "read",
    "GET /pens": "read",
    "GET /pens/<number>": "read",
    "POST /pens/<number>/job": "write",
    "GET /pens/new": "read",
    "POST /pens/new": "write",
    "GET /receive": "read",
    "POST /receive": "write",
    "GET /settings": "read",
    "GET /settings/<name>": "read",
    "POST /settings/<name>": "write",
    "GET /<of>/<number>/photographs": "read",
    "POST /<of>/<number>/photographs": "write",
    "GET /photographs/<photograph>": "read",
    "GET /sign-in": "everybody",
    "POST /sign-in": "everybody",
    "POST /sign-out": "any",
    "POST /timers/<timer>": "write",
    "POST /undo/<group>": "write",
    "GET /to-order": "read",
    "POST /to-order": "any",
    "GET /to-order/<part>": "read",
    "POST /to-order/<part>": "write",
}

# The routes of the API that do what a form does.
SAME_AS = {
    "POST /bags/<bag>/<act>": tuple(
        f"POST /v1/lots/<lot_id>/{verb}" for verb in ("move", "count", "discard", "cut", "put-back")
    ),
    "POST /bags/<bag>/says": ("PATCH /v1/lots/<lot_id>",),
    "POST /bags/<bag>/undo": ("POST /v1/movements/<group_id>/undo",),
    "POST /donors/<number>/add": ("POST /v1/donors/<number>/components",),
    "POST /donors/<number>/looked": ("PATCH /v1/donors/<number>/components/<component_id>",),
    "POST /donors/<number>/strip": ("POST /v1/donors/<number>/strip",),
    "POST /donors/new": ("POST /v1/donors",),
    "POST /drawers": ("POST /v1/drawers",),
    "POST /drawers/<code>/count": ("POST /v1/drawers/<code>/counts",),
    "POST /jobs/<number>/agree": ("PATCH /v1/jobs/<number>",),
    "POST /jobs/<number>/cancel": ("POST /v1/jobs/<number>/cancel",),
    "POST /jobs/<number>/close": ("POST /v1/jobs/<number>/close",),
    "POST /jobs/<number>/moved-back/<reservation>": (
        "POST /v1/reservations/<reservation_id>/move-back",
    ),
    "POST /jobs/<number>/moved/<reservation>": (
        "POST /v1/jobs/<number>/moved/<reservation_id>/read",
    ),
    "POST /jobs/<number>/needs/<need>": ("PATCH /v1/jobs/<number>/needs/<need_id>",),
    "POST /jobs/<number>/put-back/<lot>": ("POST /v1/lots/<lot_id>/put-back",),
    "POST /jobs/<number>/readings": ("POST /v1/pens/<number>/readings",),
    "POST /jobs/<number>/reservations/<reservation>": tuple(
        f"POST /v1/reservations/<reservation_id>/{verb}"
        for verb in ("fetch", "use", "release", "spoil")
    ),
    "POST /jobs/<number>/reserve": ("POST /v1/jobs/<number>/reservations",),
    "POST /jobs/<number>/sold": ("PATCH /v1/jobs/<number>",),
    "POST /jobs/<number>/steps/<position>": (
        "POST /v1/jobs/<number>/steps/<position>/done",
        "POST /v1/jobs/<number>/steps/<position>/undone",
    ),
    "POST /jobs/<number>/timers": ("POST /v1/jobs/<number>/timers",),
    "POST /measure/<name>": (
        "POST /v1/pens",
        "POST /v1/jobs",
        "POST /v1/pens/<number>/readings",
        "POST /v1/jobs/<number>/reservations",
    ),
    "POST /pens/<number>/job": ("POST /v1/jobs",),
    "POST /pens/new": ("POST /v1/pens", "POST /v1/jobs"),
    "POST /receive": ("POST /v1/parts", "POST /v1/lots"),
    "POST /settings/<name>": ("PATCH /v1/settings/<name>",),
    "POST /<of>/<number>/photographs": (
        "POST /v1/pens/<number>/photographs",
        "POST /v1/donors/<number>/photographs",
    ),
    "POST /timers/<timer>": ("POST /v1/timers/<timer_id>/done",),
    "POST /undo/<group>": ("POST /v1/movements/<group_id>/undo",),
    "POST /to-order": ("POST /v1/orders/plan",),
    "POST /to-order/<part>": ("PATCH /v1/parts/<number>/threshold",),
}
# What these do is of the pages alone: it concerns the session, or this browser.
OF_THE_PAGES = {"POST /sign-in", "POST /sign-out", "POST /look", "POST /labels"}


def pages(app: Flask) -> dict[str, str]:
    """Return each page and form in the table's words, with an address that stands for it."""
    found = {}
    for rule in app.url_map.iter_rules():
        if not rule.endpoint.startswith("bench."):
            continue
        line = re.sub(r"<[^>]*:(\w+)>", r"<\1>", rule.rule)
        address = re.sub(r"<(int|row):\w+>", "1", rule.rule)
        address = re.sub(r"<any\([^>]+>", "pens", address)
        address = re.sub(r"<[^>]+>", "X", address)
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            found[f"{method} {line}"] = address
    return found


def test_every_page_is_in_the_table_and_no_other(app: Flask) -> None:
    """A new page is a failure until somebody has said here who may have it."""
    assert set(pages(app)) == set(TABLE)


def scopes(app: Flask) -> dict[str, str | None]:
    """Return which scope opens each route, in the words of the tables."""
    found = {}
    for rule in app.url_map.iter_rules():
        line = re.sub(r"<[^>]*:(\w+)>", r"<\1>", rule.rule)
        for method in rule.methods or ():
            found[f"{method} {line}"] = scope_needed(app.view_functions[rule.endpoint], method)
    return found


def test_a_form_opens_to_whom_the_api_opens_the_same(app: Flask) -> None:
    """Each form that does what a route of the API does needs the very scope of that route."""
    found = scopes(app)
    for form, routes in SAME_AS.items():
        assert {found[route] for route in routes} == {found[form]}, form
    forms = {line for line in TABLE if line.startswith("POST ")}
    assert forms == SAME_AS.keys() | OF_THE_PAGES
    assert {found[line] for line in TABLE if line.startswith("GET ")} <= {"read", None}


def test_whoever_has_no_session_has_no_page(app: Flask) -> None:
    """A page sends a stranger, or a forged cookie, to sign in; a form is kept and not done."""
    for line, address in pages(app).items():
        method = line.split()[0]
        for cookie in (None, "forged"):
            client = app.test_client()
            if cookie:
                client.set_cookie("sparewell_bench", cookie)
            answer = client.open(
                address, method=method, data={"a": "b"} if method == "POST" else {}
            )
            if TABLE[line] == "everybody":
                assert answer.status_code in {200, 401, 404}, line
            elif method == "GET":
                wanted = urlsplit(answer.headers["Location"])
                assert (answer.status_code, wanted.path) == (303, "/sign-in"), line
            else:
                assert answer.status_code == 401, line


@pytest.mark.parametrize("scope", ["read", "write"])
def test_a_form_that_does_something_needs_a_token_that_may_write(
    app: Flask, token_of: Callable[[str], str], scope: str
) -> None:
    """With a session that only reads each page opens, and each form that changes is refused."""
    bench = Bench(app, token_of(scope))
    for line, address in pages(app).items():
        if line in {"POST /sign-out", "POST /sign-in", "GET /sign-in"}:
            continue
        page = bench.get(address) if line.startswith("GET") else bench.post(address)
        assert page.path != "/sign-in", line
        if TABLE[line] == "write" and scope == "read":
            assert page.status == 403, line
            assert page.problems, line
        assert page.status < 500, (line, page.text)
