"""Two people promise the whole evening at the same moment."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask

from support.api import Api

pytestmark = pytest.mark.differs
ROUNDS = 3
ASKERS = 4
PIECES = 2
JOBS = 3


def test_of_evenings_that_meet_one_is_promised(
    app: Flask, api: Api, token_of: Callable[[str], str]
) -> None:
    """Of four at once one has all that there is, and the others are told, round after round."""
    token = token_of("write")
    for number in range(1, ROUNDS + 1):
        lot = api.stock(quantity=PIECES)["id"]
        for _ in range(JOBS):
            api.job()
        plan = api.get("/v1/tonight?orders=false").body["plan"]
        bodies: list[dict[str, Any]] = [{"plan": plan}, {}, {"plan": plan}, {}]
        barrier = threading.Barrier(ASKERS)
        told: list[Any] = []

        def ask(body: dict[str, Any], barrier: threading.Barrier, told: list[Any]) -> None:
            client = Api(app, token)
            barrier.wait()
            told.append(client.post("/v1/tonight/reservations", body))

        threads = [threading.Thread(target=ask, args=(body, barrier, told)) for body in bodies]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        granted = [each for each in told if each.status == 201]
        assert [len(each.body["reservations"]) for each in granted] == [PIECES], told
        refused = [each for each in told if each.status != 201]
        assert {each.status for each in refused} == {409}, refused
        shown = api.get(f"/v1/lots/{lot}").body
        assert (shown["in_hand"], shown["promised"]) == (PIECES, PIECES)
        held = api.get("/v1/reservations?limit=500").body["reservations"]
        assert len(held) == PIECES * number
        for job in api.get("/v1/jobs?state=open").body["jobs"]:
            api.post(f"/v1/jobs/{job['number']}/cancel")
        api.post(f"/v1/lots/{lot}/discard", {"quantity": PIECES})
