"""The whole OpenAPI document against the service: schemathesis, every phase and every check."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask

from support.api import Api
from support.generated import JOBS, ORDERS, PHASES, Found, send_generated
from support.pictures import png
from support.supply import offer, sent_order, supplier

pytestmark = pytest.mark.rest

IN_CI = os.environ.get("CI") == "true"
SEED_IN_CI = 8417

Send = Callable[..., Found]


@pytest.fixture
def stocked(api: Api) -> Api:
    """The sample workshop: a lot, two drawers, jobs that hold reservations, and orders sent."""
    api.stock(1000)
    api.post("/v1/drawers", {"code": "B1"})
    jobs = [api.job() for _ in JOBS]
    for job in jobs[:-2]:
        for quantity in (2, 3):
            reply = api.post(f"/v1/jobs/{job}/reservations", {"lot": 1, "quantity": quantity})
            assert reply.status == 201, reply.text
    offered = offer(api, supplier(api))
    for _ in ORDERS:
        sent_order(api, offered)
    bag = {"line": 1, "drawer": "B1", "quantity": 1}
    assert api.post(f"/v1/orders/{ORDERS[0]}/parcels", {"lines": [bag]}).status == 201
    for number in range(1, 5):
        sheet = f"number,kind\nRING-{number},o_ring\n".encode()
        where = f"/v1/imports?of=parts&name=rings-{number}"
        assert api.call("POST", where, raw=sheet, Content_Type="text/csv").status == 201
    donor = {"called": "wreck", "components": [{"kind": "nib", "state": "present"}]}
    assert api.post("/v1/donors", donor).status == 201
    for path in ("/v1/pens/PEN-0001/photographs", "/v1/donors/DON-0001/photographs"):
        sent = api.call("POST", path, raw=png(), Content_Type="image/png")
        assert sent.status == 201, sent.text
    return api


@pytest.fixture
def send(app: Flask, stocked: Api, monkeypatch: pytest.MonkeyPatch) -> Send:
    """Return what sends generated requests: the same at every run of CI, others on a desk."""
    seed = SEED_IN_CI if IN_CI else random.SystemRandom().getrandbits(32)

    def run(**scale: Any) -> Found:
        return send_generated(
            app,
            str(stocked.token),
            seed=seed,
            deterministic=IN_CI,
            monkeypatch=monkeypatch,
            **scale,
        )

    return run


def _check(found: Found) -> None:
    told = "\n\n".join(
        f"{' / '.join(place)}\n{what}" for place, what in list(found.deviations.items())[:10]
    )
    assert not found.deviations, f"seed {found.seed}, {len(found.deviations)} kinds:\n{told}"
    assert set(PHASES) <= found.phases
    never = found.operations - found.succeeded()
    assert len(never) < len(found.operations) / 6, f"seed {found.seed}, never done: {never}"


@pytest.mark.timeout(900)
@pytest.mark.parametrize(
    "database_url",
    ["sqlite", pytest.param("postgresql", marks=[pytest.mark.postgres, pytest.mark.long])],
    indirect=True,
)
def test_generated_requests_are_answered_as_documented(send: Send, database_url: str) -> None:
    """Whatever is made of the document is answered as the document says, and never with a 5xx."""
    # What is refused at the bounds of a calculator's inputs never comes to the database: one of the
    # two will do. Fits take the same inputs, and the longest lists of them wait for the long run.
    untried = r"^/v1/(fits|calculators)/"
    if database_url.startswith("sqlite"):
        untried = r"^/v1/(fits|calculators/(fill|gasket|o_ring|spring))"
    _check(send(examples=5, without_coverage=untried))


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_many_generated_requests_are_answered_as_documented(send: Send) -> None:
    """The same holds of many more requests, and of every bound of every input."""
    _check(send(examples=100, without_coverage=None))
