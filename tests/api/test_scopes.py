"""Every route and what opens it, in one table. A route that is not in it is a failure."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from conftest import NOW
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from sparewell.edge.context import EXTENSION
from sparewell.edge.scopes import SCOPES
from sparewell.edge.throttle import FailedAttempts
from sparewell.edge.tokens import new_token, revoke_token
from support.api import Api

# Calculators and fits are plugins': one line stands for each.
TABLE = {
    "GET /health/live": "nobody",
    "GET /health/ready": "nobody",
    "GET /openapi.json": "nobody",
    "GET /docs": "nobody",
    "GET /docs/start.js": "nobody",
    "GET /docs/<file>": "nobody",
    "GET /v1/learned": "read",
    "GET /v1/calculators": "read",
    "GET /v1/calculators/<name>": "read",
    "POST /v1/calculators/<name>": "read",
    "POST /v1/fits/<name>": "read",
    "GET /v1/kinds": "read",
    "GET /v1/plugins": "read",
    "GET /v1/filling-systems": "read",
    "POST /v1/filling-systems": "write",
    "GET /v1/filling-systems/<name>": "read",
    "PATCH /v1/filling-systems/<name>": "write",
    "GET /v1/size-tables": "read",
    "GET /v1/size-tables/<name>": "read",
    "GET /v1/settings": "read",
    "GET /v1/settings/<name>": "read",
    "PATCH /v1/settings/<name>": "write",
    "GET /v1/suppliers": "read",
    "POST /v1/suppliers": "write",
    "GET /v1/suppliers/<supplier_id>": "read",
    "PATCH /v1/suppliers/<supplier_id>": "write",
    "GET /v1/suppliers/<supplier_id>/offers": "read",
    "POST /v1/suppliers/<supplier_id>/offers": "write",
    "GET /v1/offers": "read",
    "GET /v1/offers/<offer_id>": "read",
    "PATCH /v1/offers/<offer_id>": "write",
    "GET /v1/orders": "read",
    "POST /v1/orders": "write",
    "GET /v1/orders/<number>": "read",
    "PATCH /v1/orders/<number>": "write",
    "POST /v1/orders/<number>/send": "write",
    "POST /v1/orders/<number>/cancel": "write",
    "GET /v1/orders/<number>/parcels": "read",
    "POST /v1/orders/<number>/parcels": "write",
    "GET /v1/orders/<number>/parcels/<parcel_id>": "read",
    "POST /v1/orders/plan": "read",
    "GET /v1/reorder": "read",
    "GET /v1/parts/<number>/threshold": "read",
    "PATCH /v1/parts/<number>/threshold": "write",
    "GET /v1/drawers": "read",
    "POST /v1/drawers": "write",
    "GET /v1/drawers/<code>": "read",
    "PATCH /v1/drawers/<code>": "write",
    "GET /v1/parts": "read",
    "POST /v1/parts": "write",
    "GET /v1/parts/<number>": "read",
    "PATCH /v1/parts/<number>": "write",
    "GET /v1/lots": "read",
    "POST /v1/lots": "write",
    "GET /v1/lots/total": "read",
    "GET /v1/lots/<lot_id>": "read",
    "PATCH /v1/lots/<lot_id>": "write",
    "POST /v1/lots/<lot_id>/count": "write",
    "POST /v1/lots/<lot_id>/discard": "write",
    "POST /v1/lots/<lot_id>/move": "write",
    "GET /v1/lots/<lot_id>/outcomes": "read",
    "GET /v1/outcomes/came-back": "read",
    "POST /v1/lots/<lot_id>/cut": "write",
    "POST /v1/lots/<lot_id>/put-back": "write",
    "POST /v1/lots/<lot_id>/open-kit": "write",
    "POST /v1/lots/<lot_id>/punch": "write",
    "GET /v1/movements": "read",
    "POST /v1/movements/<group_id>/undo": "write",
    "GET /v1/drawers/<code>/count-sheet": "read",
    "GET /v1/donors": "read",
    "POST /v1/donors": "write",
    "GET /v1/donors/<number>": "read",
    "PATCH /v1/donors/<number>": "write",
    "POST /v1/donors/<number>/components": "write",
    "GET /v1/donors/<number>/components/<component_id>": "read",
    "PATCH /v1/donors/<number>/components/<component_id>": "write",
    "POST /v1/donors/<number>/strip": "write",
    "POST /v1/pens/<number>/to-donor": "write",
    "POST /v1/drawers/<code>/counts": "write",
    "GET /v1/purchases": "read",
    "POST /v1/purchases": "write",
    "GET /v1/purchases/<purchase_id>": "read",
    "PATCH /v1/purchases/<purchase_id>": "write",
    "GET /v1/purchases/<purchase_id>/triage": "read",
    "GET /v1/triage": "read",
    "GET /v1/pens": "read",
    "POST /v1/pens": "write",
    "GET /v1/pens/<number>": "read",
    "PATCH /v1/pens/<number>": "write",
    "POST /v1/pens/<number>/readings": "write",
    "GET /v1/pens/<number>/photographs": "read",
    "POST /v1/pens/<number>/photographs": "write",
    "GET /v1/donors/<number>/photographs": "read",
    "POST /v1/donors/<number>/photographs": "write",
    "GET /v1/photographs/<photograph_id>": "read",
    "GET /v1/photographs/<photograph_id>/image": "read",
    "POST /v1/photographs/<photograph_id>/retire": "write",
    "GET /v1/pens/<number>/alike": "read",
    "GET /v1/pens/<number>/contents": "read",
    "GET /v1/pens/<number>/history": "read",
    "GET /v1/jobs": "read",
    "POST /v1/jobs": "write",
    "GET /v1/jobs/<number>": "read",
    "PATCH /v1/jobs/<number>": "write",
    "GET /v1/jobs/<number>/plan": "read",
    "GET /v1/jobs/<number>/fetch-list": "read",
    "POST /v1/jobs/<number>/needs": "write",
    "GET /v1/jobs/<number>/needs/<need_id>": "read",
    "PATCH /v1/jobs/<number>/needs/<need_id>": "write",
    "POST /v1/jobs/<number>/reservations": "write",
    "POST /v1/jobs/<number>/moved/<reservation_id>/read": "write",
    "POST /v1/jobs/<number>/close": "write",
    "POST /v1/jobs/<number>/cancel": "write",
    "POST /v1/jobs/<number>/timers": "write",
    "POST /v1/jobs/<number>/steps/<position>/done": "write",
    "POST /v1/jobs/<number>/steps/<position>/undone": "write",
    "GET /v1/jobs/<number>/worth": "read",
    "GET /v1/timers": "read",
    "GET /v1/timers/<timer_id>": "read",
    "PATCH /v1/timers/<timer_id>": "write",
    "POST /v1/timers/<timer_id>/done": "write",
    "GET /v1/imports": "read",
    "POST /v1/imports": "write",
    "GET /v1/imports/<import_id>": "read",
    "PATCH /v1/imports/<import_id>": "write",
    "GET /v1/imports/<import_id>/problems": "read",
    "POST /v1/imports/<import_id>/check": "write",
    "POST /v1/imports/<import_id>/apply": "write",
    "POST /v1/imports/<import_id>/withdraw": "write",
    "GET /v1/export/<plural>.csv": "read",
    "GET /v1/export.json": "admin",
    "GET /v1/tonight": "read",
    "POST /v1/tonight/reservations": "write",
    "POST /v1/evenings": "read",
    "GET /v1/evenings/<plan>": "read",
    "GET /v1/reservations": "read",
    "GET /v1/reservations/<reservation_id>": "read",
    "PATCH /v1/reservations/<reservation_id>": "write",
    "POST /v1/reservations/<reservation_id>/move-back": "write",
    "POST /v1/reservations/<reservation_id>/fetch": "write",
    "POST /v1/reservations/<reservation_id>/use": "write",
    "POST /v1/reservations/<reservation_id>/release": "write",
    "POST /v1/reservations/<reservation_id>/spoil": "write",
    "POST /v1/reservations/<reservation_id>/outcomes": "write",
}


def routes(app: Flask) -> dict[str, set[str]]:
    """Return each route in the table's words, with the addresses that stand for it."""
    found: dict[str, set[str]] = {}
    for rule in app.url_map.iter_rules():
        if rule.endpoint.startswith("bench."):
            continue  # pages ask for a session: tests/bench/test_who_may.py has them in its table
        plain = re.sub(r"<\w+:(\w+)>", r"<\1>", rule.rule)
        line = re.sub(r"^/v1/(calculators|fits)/[^<].*", r"/v1/\1/<name>", plain)
        address = re.sub(
            r"<(\w+)>", lambda name: "1" if name[1].endswith(("_id", "position")) else "X", plain
        )
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            found.setdefault(f"{method} {line}", set()).add(address)
    return found


@pytest.fixture
def tokens(database: Database, token_of: Callable[[str], str]) -> dict[str, str | None]:
    """A token of each scope, and each way of having none."""

    def ended(session: Session) -> str:
        text = new_token(session, "ended", "admin", NOW)
        revoke_token(session, "ended", NOW)
        return text

    over = write(
        database,
        lambda session: new_token(
            session, "over", "admin", NOW - timedelta(days=2), expires_at=NOW - timedelta(days=1)
        ),
    )
    none = {"none": None, "unknown": "spare-x", "revoked": write(database, ended), "over": over}
    return none | {scope: token_of(scope) for scope in SCOPES}


def test_every_route_is_in_the_table_and_no_other(app: Flask) -> None:
    """A new route is a failure until somebody has said here what opens it."""
    assert set(routes(app)) == set(TABLE)


def test_each_route_opens_to_its_scope_and_to_nothing_less(
    app: Flask, tokens: dict[str, str | None]
) -> None:
    """Each route, with each kind of token, is 401, 403 or open, as the table says."""
    app.extensions[EXTENSION] = replace(
        app.extensions[EXTENSION], failed_attempts=FailedAttempts(at_once=1_000_000)
    )
    for line, addresses in routes(app).items():
        needed = TABLE[line]
        method = line.split()[0]
        for name, text in tokens.items():
            for address in addresses:
                reply = Api(app, text).call(method, address)
                seen = {401: "unknown", 403: "lacking"}.get(reply.status, "open")
                assert seen == expected(needed, name), (line, address, name, reply.text)


def expected(needed: str, name: str) -> str:
    """Return how a kind of token fares where a scope is needed."""
    if needed == "nobody":
        return "open"
    if name not in SCOPES:
        return "unknown"
    return "open" if SCOPES.index(name) >= SCOPES.index(needed) else "lacking"


def test_a_route_that_says_nothing_is_open_to_nobody(
    own_app: Flask, token_of: Callable[[str], str]
) -> None:
    """A view registered past our blueprints is 403 to every token, and 401 without one."""
    own_app.add_url_rule("/v1/back-door", view_func=lambda: "in")
    assert Api(own_app, None).get("/v1/back-door").status == 401
    for scope in SCOPES:
        reply = Api(own_app, token_of(scope)).get("/v1/back-door")
        assert reply.status == 403
        assert "does not say which one it needs" in reply.body["detail"]
