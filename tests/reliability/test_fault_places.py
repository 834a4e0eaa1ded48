"""A crash at each named place of a write: before the commit nothing is done, after it all is.

The process dies there as if it were killed, without a word; another one goes on with the database.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from sqlalchemy import func, select

from sparewell.audit.pieces import audit
from sparewell.database import faults
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.edge.tables import KeptAnswer
from sparewell.ledger.tables import Movement
from sparewell.lots.tables import Lot
from sparewell.places.tables import Place
from sparewell.reservations.tables import Reservation
from support.api import Api, Reply

DIED = 77
QUANTITY = 10
PLACES_OF_A_WRITE = (
    faults.AFTER_KEY_CLAIMED,
    faults.AFTER_BALANCE_CHANGED,
    faults.AFTER_LEDGER_WRITTEN,
    faults.BEFORE_COMMIT,
    faults.AFTER_COMMIT,
)


@dataclass(frozen=True)
class Act:
    """One write: what has to be done before, where it goes, and which places it passes."""

    name: str
    path: str
    body: dict[str, Any]
    before: tuple[str, ...] = ()
    passes_balance: bool = True
    passes_ledger: bool = True

    def passes(self, place: str) -> bool:
        """Whether the write comes by a place."""
        if place == faults.AFTER_BALANCE_CHANGED:
            return self.passes_balance
        return self.passes_ledger if place == faults.AFTER_LEDGER_WRITTEN else True


ACTS = (
    Act("reserve", "/v1/jobs/{job}/reservations", {"quantity": 2}, passes_ledger=False),
    Act("reserve best", "/v1/jobs/{job}/reservations", {}, passes_ledger=False),
    Act("fetch", "/v1/reservations/1/fetch", {"quantity": 1}, ("hold",), passes_balance=False),
    Act("use", "/v1/reservations/1/use", {"quantity": 1}, ("hold",)),
    Act("spoil", "/v1/reservations/1/spoil", {"quantity": 1}, ("hold",)),
    Act("release", "/v1/reservations/1/release", {}, ("hold",), passes_ledger=False),
    Act("release from tray", "/v1/reservations/1/release", {}, ("hold", "fetch")),
    Act("count", "/v1/lots/{lot}/count", {"counted": 7}, ("hold",)),
    Act("count and give up", "/v1/lots/{lot}/count", {"counted": 1, "release": [1]}, ("hold",)),
    Act("discard", "/v1/lots/{lot}/discard", {"quantity": 3}),
    Act("move some", "/v1/lots/{lot}/move", {"quantity": 3, "drawer": "B1"}),
    Act("move all", "/v1/lots/{lot}/move", {"drawer": "B1"}, passes_balance=False),
    Act(
        "arrive",
        "/v1/lots",
        {"part": "SAC-15-STR", "drawer": "A3", "quantity": 5, "cost": "8.50"},
        passes_balance=False,
    ),
    Act("cancel", "/v1/jobs/{job}/cancel", {}, ("hold", "fetch")),
    Act("cut", "/v1/lots/{lot}/cut", {"length": "50 mm", "quantity": 2, "keep_offcut": True}),
    Act(
        "put back",
        "/v1/lots/{lot}/put-back",
        {"reservation": 1, "condition": "used"},
        ("hold", "use"),
        passes_balance=False,
    ),
    Act("count a drawer", "/v1/drawers/A3/counts", {"counts": [{"lot": 1, "counted": 4}]}),
    Act("undo", "/v1/movements/{group}/undo", {}, ("discard",)),
)


def state_of(database: Database) -> dict[str, Any]:
    """Return all that a write could have changed, and what the audit says."""
    with read(database) as session:
        lots = select(Lot.id, Lot.in_hand, Lot.promised, Lot.cost_minor, Lot.place_id)
        holds = select(Reservation.id, Reservation.promised, Reservation.in_tray, Reservation.used)
        lines = select(Movement.verb, Movement.change, Movement.pieces, Movement.reservation_id)
        trays = select(Place.code).where(Place.type == "tray")
        return {
            "lots": sorted(map(tuple, session.execute(lots))),
            "holds": sorted(map(tuple, session.execute(holds))),
            "ledger": [tuple(row) for row in session.execute(lines.order_by(Movement.id))],
            "trays": sorted(session.scalars(trays)),
            "keys": session.scalar(select(func.count(KeptAnswer.id))),
            "faults": audit(session).faults,
        }


def die_at(place: str, database: Database, send: Callable[[], Reply]) -> int:
    """Send a request in a process of its own that dies at a place; return how it ended."""
    child = os.fork()
    if child == 0:
        # The parent's connections are the parent's.
        database.engine.dispose(close=False)
        faults.arm(place, lambda: os._exit(DIED))
        try:
            send()
        finally:
            os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


@pytest.mark.parametrize(
    "place",
    [
        faults.BEFORE_COMMIT,
        faults.AFTER_COMMIT,
        *(pytest.param(each, marks=pytest.mark.rest) for each in PLACES_OF_A_WRITE[:3]),
    ],
)
def test_a_crash_leaves_all_or_nothing_and_a_repeat_makes_it_whole(
    api: Api, database: Database, place: str
) -> None:
    """Whatever was being done and wherever it died, a repeat with its key has one effect."""
    api.post("/v1/drawers", {"code": "B1"})
    for number, act in enumerate(ACTS):
        if not act.passes(place):
            continue
        path, body = prepare(api, act)
        key = f"{place}-{number}"
        before = state_of(database)

        def send(path: str = path, body: Any = body, key: str = key) -> Reply:
            return api.post(path, body, Idempotency_Key=key)

        assert die_at(place, database, send) == DIED, f"{act.name} never came by {place}"
        crashed = state_of(database)
        is_done = place == faults.AFTER_COMMIT
        assert (crashed != before) == is_done, act.name
        assert crashed["faults"] == ()
        reply = send()
        assert reply.status in {200, 201}, reply.text
        assert ("Idempotency-Replayed" in reply.headers) == is_done
        after = state_of(database)
        assert (after == crashed) == is_done, act.name
        assert after["faults"] == ()
        assert after["keys"] == before["keys"] + 1
        assert send().text == reply.text
        assert state_of(database) == after, f"{act.name}: a second repeat had an effect"


def prepare(api: Api, act: Act) -> tuple[str, dict[str, Any]]:
    """Make a lot and a job for a write, do what has to come before it, and return the request."""
    lot, job = api.stock(quantity=QUANTITY, cost="12.34")["id"], api.job()
    body = dict(act.body)
    if act.name == "reserve":
        body["lot"] = lot
    hold = None
    if "hold" in act.before:
        made = api.post(f"/v1/jobs/{job}/reservations", {"lot": lot, "quantity": 3})
        hold = made.body["reservations"][0]["id"]
    if "fetch" in act.before:
        assert api.post(f"/v1/reservations/{hold}/fetch", {"quantity": 2}).status == 200
    if "use" in act.before:
        assert api.post(f"/v1/reservations/{hold}/use", {"quantity": 1}).status == 200
    group = 0
    if "discard" in act.before:
        assert api.post(f"/v1/lots/{lot}/discard", {"quantity": 2}).status == 200
        group = api.get(f"/v1/movements?lot={lot}&verb=discarded").body["movements"][0]["group"]
    if "release" in body:
        body["release"] = [hold]
    if "reservation" in body:
        body["reservation"] = hold
    if "counts" in body:
        body["counts"] = [{"lot": lot, "counted": 4}]
    path = act.path.format(job=job, lot=lot, group=group)
    return path.replace("/reservations/1/", f"/reservations/{hold}/"), body


def test_a_place_that_is_none_cannot_be_armed() -> None:
    """A slip in a place's name is heard, instead of a test that never fails."""
    with pytest.raises(ValueError, match="before_comit"):
        faults.arm("before_comit", lambda: None)


def test_nothing_in_the_product_arms_a_place() -> None:
    """Outside tests every place does nothing."""
    assert faults._armed == {}
