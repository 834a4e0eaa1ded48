"""Spoiled at fitting: one call writes the piece off and says, or reserves, what comes next.

And a need that had its piece is open again once the piece is put back into stock.
"""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import text

from conftest import NOW, Clock
from sparewell.database.engine import Database
from sparewell.database.transaction import write
from support.api import ANYWAY, Api, Reply

GOOD = {"outside_diameter": "6.1 mm", "inside_diameter": "5.3 mm"}
RESERVATION = {"id", "lot", "job", "need", "quantity", "state", "promised", "spoiled", "note"}


def reserved(api: Api, job: str, **body: Any) -> dict[str, Any]:
    """Promise pieces to a job; return the reservation."""
    reply = api.post(f"/v1/jobs/{job}/reservations", body)
    assert reply.status == 201, reply.text
    return dict(reply.body["reservations"][0])


def spoil(api: Api, reservation: int, **body: Any) -> Reply:
    """Spoil pieces of a reservation."""
    return api.post(f"/v1/reservations/{reservation}/spoil", body)


def need(api: Api, job: str, position: int = 0) -> dict[str, Any]:
    """Return a need of a job."""
    return dict(api.get(f"/v1/jobs/{job}").body["needs"][position])


def available(api: Api, lot: int) -> int:
    """Return how many pieces of a lot are free."""
    return int(api.get(f"/v1/lots/{lot}").body["available"])


def test_a_spoiled_piece_offers_the_next_one_and_how_to_have_it(api: Api) -> None:
    """The reservation stands at the top, the next piece beside it; its request just works."""
    first, second = (api.stock(1, measured=GOOD, made_on=year)["id"] for year in ("2024", "2025"))
    job = api.job()
    held = reserved(api, job)
    assert held["lot"] == first
    reply = spoil(api, held["id"], note="split at the mouth")
    assert reply.status == 200
    assert set(reply.body) > RESERVATION
    assert (reply.body["state"], reply.body["spoiled"]) == ("spoiled", 1)
    told = reply.body["next"]
    assert (told["need"], told["kind"], told["lacks"]) == (held["need"], "sac", 1)
    assert (told["reserved"], told["to_order"]) == ([], [])
    (piece,) = told["pieces"]
    assert (piece["lot"], piece["place"], piece["verdict"]) == (second, "A3", "try_in")
    assert f"bag {second} in A3 is next" in told["why"]
    assert piece["why"]
    assert need(api, job)["state"] == "open"
    again = api.post(piece["reserve"]["path"], piece["reserve"]["body"])
    assert (again.status, again.body["reservations"][0]["need"]) == (201, held["need"])
    last = spoil(api, again.body["reservations"][0]["id"]).body["next"]
    assert last["pieces"] == []
    assert [(each["kind"], each["quantity"]) for each in last["to_order"]] == [("sac", 1)]
    assert "nothing in hand would do" in last["why"]


def test_the_next_piece_is_reserved_in_the_same_breath(api: Api) -> None:
    """With reserve_next the need is promised again, and a repeat under the key does it once."""
    first, second = (api.stock(1, measured=GOOD, made_on=year)["id"] for year in ("2024", "2025"))
    job = api.job()
    held = reserved(api, job)
    path, body = f"/v1/reservations/{held['id']}/spoil", {"reserve_next": True, "note": "torn"}
    one, two = (api.post(path, body, Idempotency_Key="torn") for _ in range(2))
    assert (one.status, one.text) == (two.status, two.text)
    (made,) = one.body["next"]["reserved"]
    assert (made["lot"], made["need"], made["state"], made["note"]) == (
        second,
        held["need"],
        "held",
        "torn",
    )
    assert (one.body["next"]["lacks"], one.body["next"]["pieces"]) == (0, [])
    assert f"reserved 1 of bag {second}" in one.body["next"]["why"]
    assert need(api, job)["state"] == "promised"
    assert [available(api, lot) for lot in (first, second)] == [0, 0]
    assert made["verdict"] == "try_in"


def test_where_none_can_be_had_the_piece_is_spoiled_all_the_same(api: Api) -> None:
    """Nothing in hand, or an owner who has declined since: the spoil stands, and says why."""
    lot = api.stock(1, measured=GOOD)["id"]
    job = api.job()
    held = reserved(api, job)["id"]
    reply = spoil(api, held, reserve_next=True).body
    assert (reply["state"], reply["next"]["reserved"], reply["next"]["lacks"]) == ("spoiled", [], 1)
    assert "nothing was reserved" in reply["next"]["why"]
    assert reply["next"]["to_order"][0]["quantity"] == 1
    assert api.get(f"/v1/lots/{lot}").body["in_hand"] == 0
    api.stock(2, measured=GOOD)
    held = reserved(api, job)["id"]
    api.patch(f"/v1/jobs/{job}", {"approval": {"state": "declined", "by": "the owner"}})
    reply = spoil(api, held, reserve_next=True).body
    assert (reply["state"], reply["next"]["reserved"]) == ("spoiled", [])
    assert "declined" in reply["next"]["why"]


def test_only_so_many_are_reserved_as_were_spoiled(api: Api) -> None:
    """Of two spoiled pieces for one need one is lacking and one was extra, and one is reserved."""
    lot = api.stock(5, measured=GOOD)["id"]
    job = api.job()
    held = reserved(api, job, lot=lot, quantity=2)["id"]
    part = spoil(api, held, quantity=1, reserve_next=True).body
    assert (part["state"], part["next"]["lacks"], part["next"]["reserved"]) == ("held", 0, [])
    assert "lacks nothing: it is promised" in part["next"]["why"]
    last = spoil(api, held, reserve_next=True).body["next"]
    assert [(each["lot"], each["quantity"]) for each in last["reserved"]] == [(lot, 1)]
    extra = reserved(api, job, lot=lot)
    assert extra["need"] is None
    told = spoil(api, extra["id"], reserve_next=True).body["next"]
    assert (told["need"], told["reserved"]) == (None, [])
    assert "it was extra" in told["why"]


def test_what_no_calculator_judges_is_taken_out_of_the_same_lot(api: Api) -> None:
    """A person chose that lot, so more of it is next; another lot is offered and not taken."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": "SEAL", "kind": "converter_seal"})
    body = {"part": "SEAL", "drawer": "A3", "quantity": 2}
    chosen = api.post("/v1/lots", body | {"measured": {"inside_diameter": "2.3 mm"}}).body["id"]
    other = api.post("/v1/lots", body | {"measured": {"inside_diameter": "2.4 mm"}}).body["id"]
    pen = {"called": "school pen", "filling_system": "converter", "readings": {"nozzle": 2.5}}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    held = reserved(api, job, lot=chosen)["id"]
    told = spoil(api, held, reserve_next=True).body["next"]
    assert [each["lot"] for each in told["reserved"]] == [chosen]
    told = spoil(api, told["reserved"][0]["id"], reserve_next=True).body["next"]
    assert (told["reserved"], [each["lot"] for each in told["pieces"]]) == ([], [other])
    assert told["pieces"][0]["verdict"] is None


def test_a_spoil_of_what_has_ended_reserves_nothing(api: Api, clock: Clock) -> None:
    """After its end, or once it has lapsed, nothing is spoiled and nothing else is promised."""
    lot = api.stock(3, measured=GOOD)["id"]
    job = api.job()
    held = reserved(api, job)["id"]
    api.post(f"/v1/reservations/{held}/use")
    assert spoil(api, held, reserve_next=True).status == 409
    assert available(api, lot) == 2
    api.patch("/v1/settings/stock.hold_lapses_after_hours", {"value": 24, "why": "two benches"})
    held = reserved(api, api.job())["id"]
    clock.now = NOW + timedelta(hours=25)
    refused = spoil(api, held, reserve_next=True)
    assert (refused.status, "lapsed" in refused.body["detail"]) == (409, True)
    assert api.get(f"/v1/lots/{lot}").body["in_hand"] == 2


@pytest.mark.parametrize("value", ["yes", None])
def test_reserve_next_is_true_or_false(api: Api, value: object) -> None:
    """Anything else is refused where it stands, and nothing is spoiled."""
    lot = api.stock(2, measured=GOOD)["id"]
    held = reserved(api, api.job())["id"]
    refused = spoil(api, held, reserve_next=value)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/reserve_next")
    assert api.get(f"/v1/lots/{lot}").body["in_hand"] == 2


def test_one_last_piece_is_next_for_one_of_two(api: Api) -> None:
    """Two benches spoil at one moment and one piece is left: one has it, the other is told."""
    jobs = [api.job() for _ in range(2)]
    for _ in range(4):
        api.stock(2, measured=GOOD, made_on="2023")
        held = [reserved(api, job)["id"] for job in jobs]
        last = api.stock(1, measured=GOOD, made_on="2026")["id"]
        start = threading.Barrier(2)

        def ask(reservation: int, start: threading.Barrier = start) -> dict[str, Any]:
            start.wait()
            return dict(spoil(Api(api.app, api.token), reservation, reserve_next=True).body)

        with ThreadPoolExecutor(2) as pool:
            told = list(pool.map(ask, held))
        assert [each["state"] for each in told] == ["spoiled"] * 2
        taken = [row for each in told for row in each["next"]["reserved"]]
        assert [row["lot"] for row in taken] == [last]
        api.post(f"/v1/reservations/{taken[0]['id']}/spoil")


def test_a_piece_put_back_opens_its_need_again(api: Api) -> None:
    """The plan asks for the piece again, the job can reserve it, and may drop it as well."""
    lot = api.stock(3, measured=GOOD)["id"]
    job = api.job()
    held = reserved(api, job)["id"]
    api.post(f"/v1/reservations/{held}/use")
    assert need(api, job)["state"] == "met"
    group = api.get("/v1/movements?verb=fitted").body["movements"][0]["group"]
    refused = api.post(f"/v1/movements/{group}/undo")
    assert (refused.status, "put-back" in refused.body["detail"]) == (409, True)
    back = {"reservation": held, "condition": "as new", "note": "wrong pen"}
    assert api.post(f"/v1/lots/{lot}/put-back", back).status == 201
    opened = need(api, job)
    assert (opened["state"], opened["used"]) == ("open", 0)
    assert api.get(f"/v1/jobs/{job}/plan").body["needs"][0]["best"]
    again = reserved(api, job)
    assert again["need"] == opened["id"]
    api.post(f"/v1/reservations/{again['id']}/release")
    path = f"/v1/jobs/{job}/needs/{opened['id']}"
    assert api.patch(path, {"dropped": True, "why": "not this pen"}).status == 200


def test_a_job_that_has_ended_stands_as_it_ended(api: Api, clock: Clock) -> None:
    """Years later a piece comes into stock again, and the closed job's need stays met."""
    lot = api.stock(3, measured=GOOD)["id"]
    early, late = api.job(), api.job()
    held = [reserved(api, job)["id"] for job in (early, late)]
    for reservation in held:
        api.post(f"/v1/reservations/{reservation}/use")
    back = {"condition": "used"}
    api.post(f"/v1/lots/{lot}/put-back", back | {"reservation": held[0]})
    clock.now = NOW + timedelta(hours=1)
    for job in (early, late):
        assert api.post(f"/v1/jobs/{job}/close", ANYWAY).status == 200
    clock.now = NOW + timedelta(days=3 * 365)
    made = api.post(f"/v1/lots/{lot}/put-back", back | {"reservation": held[1]})
    assert made.status == 201, made.text
    assert [need(api, job)["state"] for job in (early, late)] == ["open", "met"]
    assert available(api, made.body["made"][0]["id"]) == 1


def test_audit_sees_more_put_back_than_was_used(api: Api, database: Database) -> None:
    """A need that is open for a piece that never came back would stand in the audit."""
    lot = api.stock(3, measured=GOOD)["id"]
    held = reserved(api, api.job())["id"]
    api.post(f"/v1/reservations/{held}/use")
    back = {"reservation": held, "condition": "used"}
    assert api.post(f"/v1/lots/{lot}/put-back", back).status == 201
    refused = api.post(f"/v1/lots/{lot}/put-back", back)
    assert (refused.status, refused.body["errors"][0]["detail"]) == (409, "at most 0")
    assert available(api, lot) == 2
    count = "SELECT count(*) FROM movement WHERE verb = 'put_back'"
    assert write(database, lambda session: session.scalar(text(count))) == 1
