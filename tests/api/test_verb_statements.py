"""How many statements a promise and its verbs take: with nothing locked, and under the lock."""

from __future__ import annotations

from typing import Any

import pytest

from sparewell.database.engine import Database
from support.api import Api
from support.statements import counted_apart

pytestmark = pytest.mark.differs
TOKEN = 1
KEY = 2


class Counting:
    """Sends requests, and counts the statements of each."""

    def __init__(self, api: Api, database: Database) -> None:
        self.api, self.database = api, database

    def post(self, path: str, body: Any = None, **headers: str) -> tuple[Any, int, int]:
        """Send a request that has to succeed; return its answer, and what it read and wrote by."""
        with counted_apart(self.database) as (reading, writing):
            reply = self.api.post(path, body, **headers)
        assert reply.status < 300, reply.text
        return reply.body, len(reading) - TOKEN, len(writing)

    def reserve(self, job: str, **said: Any) -> tuple[int, int, int]:
        """Reserve; return the first reservation, and what it read and wrote by."""
        body, reads, writes = self.post(f"/v1/jobs/{job}/reservations", said)
        return body["reservations"][0]["id"], reads, writes


@pytest.fixture
def counting(api: Api, database: Database) -> Counting:
    """A workshop of which each statement is counted, once everything was asked for once."""
    api.stock(quantity=100)
    return Counting(api, database)


def test_a_named_bag_takes_four_statements_under_the_lock(counting: Counting) -> None:
    """Versions, what the needs have, the balance, the reservation; two more watch a ceiling."""
    job = counting.api.job()
    _, reads, writes = counting.reserve(job, lot=1, quantity=1)
    assert (reads, writes) == (8, 4)
    assert counting.api.patch(f"/v1/jobs/{job}", {"ceiling": "5.00"}).status == 200
    _, reads, writes = counting.reserve(job, lot=1, quantity=1)
    assert (reads, writes) == (8, 6)


def test_the_best_set_takes_one_statement_a_bag_and_three(counting: Counting) -> None:
    """A set out of one bag takes four statements, out of two five."""
    job = counting.api.job()
    _, _, writes = counting.reserve(job)
    assert writes == 4
    counting.api.post("/v1/parts", {"number": "BAR", "kind": "pressure_bar", "material": "steel"})
    bag = {"part": "BAR", "drawer": "A3", "quantity": 2}
    measured = {"width": "4 mm", "length": "55 mm", "thickness": "0.2 mm"}
    assert counting.api.post("/v1/lots", bag | {"measured": measured}).status == 201
    job = counting.api.job()
    needs = counting.api.get(f"/v1/jobs/{job}").body["needs"]
    bar = next(need["id"] for need in needs if need["kind"] == "pressure_bar")
    counting.api.patch(f"/v1/jobs/{job}/needs/{bar}", {"optional": False})
    plan = counting.api.get(f"/v1/jobs/{job}/plan").body
    assert plan["complete"], [need["problem"] for need in plan["needs"]]
    _, _, writes = counting.reserve(job)
    assert writes == 5


def test_the_verbs_of_a_reservation_read_nothing_before_they_lock_it(counting: Counting) -> None:
    """What is done to a promise locks on first read: five statements, six, and three."""
    row, *_ = counting.reserve(counting.api.job(), lot=1, quantity=9)
    one = {"quantity": 1}
    assert counting.post(f"/v1/reservations/{row}/fetch", one)[1:] == (0, 6)  # makes the tray
    assert counting.post(f"/v1/reservations/{row}/fetch", one)[1:] == (0, 5)
    assert counting.post(f"/v1/reservations/{row}/use", one)[1:] == (0, 6)
    assert counting.post(f"/v1/reservations/{row}/release", one)[1:] == (0, 3)
    assert counting.post(f"/v1/reservations/{row}/spoil", one)[2] == 8


def test_a_key_costs_two_statements_and_a_repeat_writes_none(counting: Counting) -> None:
    """The key is claimed and the answer kept; a repeat is told before anything is prepared."""
    path, said = f"/v1/jobs/{counting.api.job()}/reservations", {"lot": 1, "quantity": 1}
    assert counting.post(path, said, Idempotency_Key="once")[1:] == (9, 4 + KEY)
    assert counting.post(path, said, Idempotency_Key="once")[1:] == (1, 0)
    row = counting.api.get("/v1/reservations").body["reservations"][0]["id"]
    used = counting.post(f"/v1/reservations/{row}/use", {}, Idempotency_Key="used")
    assert used[1:] == (0, 6 + KEY)


def test_a_piece_fixed_in_another_costs_two_statements_more(counting: Counting) -> None:
    """Promising a donor's cap promises its clip, and both are used at once."""
    api = counting.api
    parts = [{"kind": "cap"}, {"kind": "clip", "part_of": 0}]
    donor = api.post("/v1/donors", {"called": "a donor", "components": parts}).body
    lots = {each["kind"]: each["lot"] for each in donor["components"]}
    job = api.job()
    row, _, writes = counting.reserve(job, lot=lots["cap"], quantity=1, override="tried")
    assert writes == 4 + 1 + 2  # whether something is fixed in it is asked once, however deep
    assert counting.post(f"/v1/reservations/{row}/fetch")[2] <= 6 + 2
    assert counting.post(f"/v1/reservations/{row}/use")[2] <= 6 + 2


def test_lists_take_as_many_statements_for_thirty_rows_as_for_three(counting: Counting) -> None:
    """The jobs take six statements whatever their number, the reservations one."""

    def statements() -> list[int]:
        found = []
        for path in ("/v1/jobs", "/v1/reservations"):
            with counted_apart(counting.database) as (reading, _):
                assert counting.api.get(path).status == 200
            found.append(len(reading) - TOKEN)
        return found

    for wanted in (3, 30):
        while len(counting.api.get("/v1/jobs?limit=100").body["jobs"]) < wanted:
            job = counting.api.job()
            approval = {"approval": {"state": "asked"}, "ceiling": "9.00"}
            assert counting.api.patch(f"/v1/jobs/{job}", approval).status == 200
            counting.reserve(job, lot=1, quantity=1)
        assert statements() == [6, 1]
