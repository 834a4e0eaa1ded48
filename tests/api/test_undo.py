"""Undoing: the opposite of what was done, as long as nothing stands in the way."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from sparewell.audit.pieces import audit
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.reservations.tables import Reservation
from support.api import Api, Reply


def group_of(api: Api, lot_id: int, verb: str) -> int:
    """Return the group of the latest line of a lot with a verb."""
    found = api.get(f"/v1/movements?lot={lot_id}&verb={verb}").body["movements"]
    return int(found[-1]["group"])


def undo(api: Api, group: int) -> Reply:
    """Undo a group."""
    return api.post(f"/v1/movements/{group}/undo", {"note": "a slip"})


def state(api: Api, lot_id: int) -> tuple[Any, ...]:
    """Return what an act may change of a lot."""
    lot = api.get(f"/v1/lots/{lot_id}").body
    return lot["in_hand"], lot["cost"], lot["place"], lot["promised"]


ACTS = (
    ("count", {"counted": 7}, "counted"),
    ("count", {"counted": 12}, "counted"),
    ("count", {"counted": 0}, "counted"),
    ("discard", {"quantity": 3}, "discarded"),
    ("move", {"drawer": "B1"}, "moved"),
    ("move", {"drawer": "B1", "quantity": 3}, "moved"),
    ("cut", {"length": "52 mm", "quantity": 3}, "cut"),
    ("punch", {"part": "WASHER", "outside_diameter": "8 mm", "quantity": 9}, "punched"),
    ("open-kit", {"contents": [{"part": "WASHER", "quantity": 3}]}, "opened"),
)


@pytest.mark.parametrize(("verb", "body", "line"), ACTS)
def test_undo_leaves_everything_as_it_was(
    api: Api, verb: str, body: dict[str, Any], line: str
) -> None:
    """The opposite lines stand in a group that names the other, and no act is undone twice."""
    api.stock()
    api.post("/v1/drawers", {"code": "B1"})
    api.post("/v1/parts", {"number": "WASHER", "kind": "gasket"})
    api.post("/v1/parts", {"number": "SHEET", "kind": "sheet"})
    more: dict[str, Any] = {"cost": "10.01"}
    if verb == "punch":
        more |= {"part": "SHEET", "measured": {"width": "50 mm", "length": "60 mm"}}
    lot_id = api.stock(**more)["id"]
    before = state(api, lot_id)
    assert api.post(f"/v1/lots/{lot_id}/{verb}", body).status in {200, 201}
    group = group_of(api, lot_id, line)
    done = api.get(f"/v1/movements?group={group}").body["movements"]
    reply = undo(api, group)
    assert reply.status == 200, reply.text
    assert state(api, lot_id) == before
    lines = reply.body["movements"]
    assert {(each["undoes"], each["verb"], each["note"]) for each in lines} == {
        (group, "undone", "a slip")
    }
    assert sorted((each["lot"], -each["change"]) for each in lines) == sorted(
        (each["lot"], each["change"]) for each in done
    )
    for each in done:
        if each["lot"] != lot_id:
            assert state(api, each["lot"])[:2] == (0, "0.00")
    again = undo(api, group)
    assert again.status == 409
    assert f"group {reply.body['group']}" in again.body["detail"]
    assert undo(api, reply.body["group"]).status == 409
    repeated = api.post(f"/v1/lots/{lot_id}/{verb}", body)
    assert repeated.status in {200, 201}, "what was undone can be done again"


def test_undo_of_an_arrival_takes_the_lot_away(api: Api) -> None:
    """A lot taken in by mistake is none in hand, at no cost, and stays in the ledger."""
    lot_id = api.stock(cost="8.50")["id"]
    assert undo(api, group_of(api, lot_id, "arrived")).status == 200
    assert state(api, lot_id)[:2] == (0, "0.00")


def test_undo_refuses_an_arrival_that_was_touched(api: Api) -> None:
    """Once something was done with the lot its arrival stands, until that is undone too."""
    lot_id = api.stock(cost="8.50")["id"]
    arrival = group_of(api, lot_id, "arrived")
    api.post(f"/v1/lots/{lot_id}/discard", {"quantity": 1})
    discard = group_of(api, lot_id, "discarded")
    refused = undo(api, arrival)
    assert refused.status == 409
    assert refused.body["errors"][0]["group"] == discard
    assert undo(api, discard).status == 200
    assert undo(api, arrival).status == 200
    assert state(api, lot_id)[:2] == (0, "0.00")


def test_undo_refuses_where_the_pieces_are_promised(api: Api) -> None:
    """What was counted up, moved off or taken in and is promised now stays; the job is named."""
    lot_id = api.stock(2)["id"]
    api.post("/v1/drawers", {"code": "B1"})
    api.post(f"/v1/lots/{lot_id}/count", {"counted": 3})
    moved = api.post(f"/v1/lots/{lot_id}/move", {"drawer": "B1", "quantity": 1}).body["id"]
    job = api.job()
    for lot, quantity in ((lot_id, 2), (moved, 1)):
        body = {"lot": lot, "quantity": quantity}
        assert api.post(f"/v1/jobs/{job}/reservations", body).status == 201
    for verb, lot in (("counted", lot_id), ("moved", moved)):
        before = state(api, lot)
        refused = undo(api, group_of(api, lot, verb))
        assert refused.status == 409, verb
        assert job in refused.body["detail"]
        assert refused.body["errors"][0]["job"] == job
        assert state(api, lot) == before


def test_undo_refuses_a_cut_whose_piece_was_used(api: Api) -> None:
    """A piece that is in a pen cannot become whole again."""
    lot_id = api.stock()["id"]
    reply = api.post(f"/v1/lots/{lot_id}/cut", {"length": "52 mm"}).body
    job, piece = api.job(), reply["made"][0]["id"]
    made = api.post(f"/v1/jobs/{job}/reservations", {"lot": piece}).body["reservations"][0]["id"]
    api.post(f"/v1/reservations/{made}/use")
    refused = undo(api, reply["group"])
    assert refused.status == 409
    assert "fitted" in refused.body["detail"]


def test_undo_refuses_what_belongs_to_a_promise(api: Api) -> None:
    """Fetched, used and put back pieces have verbs of their own, and the refusal names them."""
    lot_id, job = api.stock()["id"], api.job()
    body = {"lot": lot_id, "quantity": 2}
    made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"][0]["id"]
    api.post(f"/v1/reservations/{made}/fetch")
    api.post(f"/v1/reservations/{made}/use", {"quantity": 1})
    back = {"reservation": made, "condition": "as new"}
    put_back = api.post(f"/v1/lots/{lot_id}/put-back", back).body["group"]
    for group in (group_of(api, lot_id, "moved"), group_of(api, lot_id, "fitted"), put_back):
        refused = undo(api, group)
        assert refused.status == 409
        assert job in refused.body["detail"]
        assert refused.body["errors"][0]["reservation"] == made
    assert api.get(f"/v1/reservations/{made}").body["used"] == 1


def test_undo_refuses_a_move_of_what_has_moved_on(api: Api) -> None:
    """A lot that lies in a third drawer now is not pulled back to the first."""
    lot_id = api.stock()["id"]
    for code in ("B1", "C1"):
        api.post("/v1/drawers", {"code": code})
        api.post(f"/v1/lots/{lot_id}/move", {"drawer": code})
    first = api.get(f"/v1/movements?lot={lot_id}&verb=moved").body["movements"][0]["group"]
    refused = undo(api, first)
    assert refused.status == 409
    assert "C1" in refused.body["detail"]
    assert undo(api, group_of(api, lot_id, "moved")).status == 200
    assert undo(api, first).status == 200
    assert state(api, lot_id)[2] == "A3"


def test_whole_lot_moves_back_with_its_promises(api: Api) -> None:
    """Undoing the move of a whole lot takes no piece from anybody, so promises do not hinder it."""
    lot_id, job = api.stock()["id"], api.job()
    api.post(f"/v1/jobs/{job}/reservations", {"lot": lot_id, "quantity": 4})
    api.post("/v1/drawers", {"code": "B1"})
    api.post(f"/v1/lots/{lot_id}/move", {"drawer": "B1"})
    assert undo(api, group_of(api, lot_id, "moved")).status == 200
    assert state(api, lot_id)[2:] == ("A3", 4)


def test_undo_refuses_where_the_cost_would_not_add_up(api: Api) -> None:
    """No cost may be left over where the pieces counted in are the last ones."""
    lot_id = api.stock(2, cost="10.00")["id"]
    api.post(f"/v1/lots/{lot_id}/count", {"counted": 4})
    group = group_of(api, lot_id, "counted")
    api.post(f"/v1/lots/{lot_id}/discard", {"quantity": 2})
    refused = undo(api, group)
    assert refused.status == 409
    assert "cost" in refused.body["detail"]
    assert state(api, lot_id)[:2] == (2, "5.00")


def test_cost_and_unknown_groups_are_not_undone(api: Api) -> None:
    """A changed cost is changed again instead, and a group that is not there is 404."""
    lot_id = api.stock(cost="8.50")["id"]
    api.patch(f"/v1/lots/{lot_id}", {"cost": "9.00"})
    refused = undo(api, group_of(api, lot_id, "valued"))
    assert refused.status == 409
    assert "changing the bag" in refused.body["detail"]
    assert undo(api, 999).status == 404


def test_undo_repeated_with_its_key_is_done_once(api: Api) -> None:
    """The second answer is the first, and the pieces come back once."""
    lot_id = api.stock()["id"]
    api.post(f"/v1/lots/{lot_id}/discard", {"quantity": 3})
    path = f"/v1/movements/{group_of(api, lot_id, 'discarded')}/undo"
    one, two = (api.post(path, {}, Idempotency_Key="slip") for _ in range(2))
    assert (one.status, one.text) == (two.status, two.text)
    assert state(api, lot_id)[0] == 10


def test_a_whole_drawer_count_is_undone_together(api: Api) -> None:
    """A stocktake that was entered for the wrong drawer is taken back lot by lot in one group."""
    lots = [api.stock(cost="1.00")["id"] for _ in range(3)]
    counts = [{"lot": lot_id, "counted": number} for number, lot_id in enumerate(lots)]
    group = api.post("/v1/drawers/A3/counts", {"counts": counts}).body["group"]
    assert undo(api, group).status == 200
    assert [state(api, lot_id)[:2] for lot_id in lots] == [(10, "1.00")] * 3


INDEX = st.integers(0, 40)
STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "cut",
                "discard",
                "count",
                "move",
                "put back",
                "undo",
                "undo",
                "reserve",
                "verb",
                "strip",
            ]
        ),
        INDEX,
        INDEX,
    ),
    min_size=5,
    max_size=30,
)
VERBS = ("fetch", "use", "release", "spoil")


def step(api: Api, job: str, what: str, index: int, number: int) -> Reply:
    """Do one thing with whatever there is."""
    lots = api.get("/v1/lots?limit=500").body["lots"]
    held = api.get("/v1/reservations?limit=500").body["reservations"]
    groups = sorted(
        {line["group"] for line in api.get("/v1/movements?limit=500").body["movements"]}
    )
    lot = lots[index % len(lots)]["id"]
    drawer = ("A3", "B1")[number % 2]
    promise = held[index % len(held)]["id"] if held else 1
    used_lot = held[index % len(held)]["lot"] if held else 1
    some = {"quantity": 1 + number % 3} if number % 3 else {}
    requests: dict[str, tuple[str, dict[str, Any]]] = {
        "cut": (f"lots/{lot}/cut", {"length": f"{1 + number} mm"}),
        "discard": (f"lots/{lot}/discard", {"quantity": 1 + number % 3}),
        "count": (f"lots/{lot}/count", {"counted": number % 5}),
        "move": (f"lots/{lot}/move", {"drawer": drawer} | some),
        "put back": (
            f"lots/{used_lot}/put-back",
            {"reservation": promise, "condition": "used"},
        ),
        "undo": (f"movements/{groups[-1 - index % min(8, len(groups))]}/undo", {}),
        "reserve": (f"jobs/{job}/reservations", {"lot": lot, "quantity": 1}),
        "strip": ("donors/DON-0001/strip", {"lots": [lot], "drawer": drawer}),
        "verb": (f"reservations/{promise}/{VERBS[number % 4]}", {}),
    }
    path, body = requests[what]
    return api.post(f"/v1/{path}", body)


@pytest.mark.rest
@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=STEPS)
def test_whatever_is_done_and_undone_the_ledger_balances(
    api: Api, database: Database, steps: list[tuple[str, int, int]]
) -> None:
    """Each step is done or refused, and after each history the audit agrees with every balance."""
    api.stock(3, cost="1.00")
    api.post("/v1/drawers", {"code": "B1"})
    cap = {"kind": "cap", "state": "present"}
    clip = {"kind": "clip", "state": "present", "part_of": 0}
    api.post("/v1/donors", {"called": "wreck", "components": [cap, clip]})
    jobs = (api.job(), api.job())
    for number, (what, index, choice) in enumerate(steps):
        reply = step(api, jobs[number % 2], what, index, choice)
        assert reply.status in {200, 201, 404, 409, 422}, (what, reply.text)
    with read(database) as session:
        assert audit(session).faults == ()
        for follower in session.scalars(
            select(Reservation).where(Reservation.goes_with_id.is_not(None))
        ):
            leader = session.get_one(Reservation, follower.goes_with_id)
            assert (leader.job_id, leader.state) == (follower.job_id, follower.state)
