"""Pieces that become others: cut, opened, punched, put back; and what they cost all the while."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from sparewell.audit.pieces import audit
from sparewell.database import faults
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.measure.money import parse_money
from support.api import Api

SHEET = {
    "part": "SHEET-1",
    "drawer": "A3",
    "quantity": 2,
    "measured": {"width": "100 mm", "length": "200 mm", "thickness": "1.5 mm"},
    "material": "nbr",
    "cost": "10.01",
}


def minor(*lots: dict[str, Any]) -> int:
    """Return what lots cost together, in the smallest unit."""
    return sum(parse_money(lot["cost"]) for lot in lots)


def lot(api: Api, lot_id: int) -> dict[str, Any]:
    """Return a lot as it is now."""
    return dict(api.get(f"/v1/lots/{lot_id}").body)


def used(api: Api, quantity: int = 3, of: int = 10) -> tuple[int, int]:
    """Return a lot of ten of which some were used for a job, and the reservation."""
    stock, job = api.stock(of, cost="8.53"), api.job()
    made = api.post(f"/v1/jobs/{job}/reservations", {"lot": stock["id"], "quantity": quantity})
    reservation = made.body["reservations"][0]["id"]
    assert api.post(f"/v1/reservations/{reservation}/use").status == 200
    return stock["id"], reservation


def sheet(api: Api, **more: Any) -> dict[str, Any]:
    """Take two sheets of rubber in, and the washer's part; return the lot."""
    api.post("/v1/drawers", {"code": "A3"})
    api.post("/v1/parts", {"number": "SHEET-1", "kind": "sheet", "name": "rubber sheet"})
    washer = {"number": "WASHER-21", "kind": "gasket", "dimensions": {"thickness": "1.6 mm"}}
    api.post("/v1/parts", washer)
    reply = api.post("/v1/lots", SHEET | more)
    assert reply.status == 201, reply.text
    return dict(reply.body)


def test_cutting_makes_a_piece_and_an_offcut(api: Api) -> None:
    """A sac cut to 52 mm is a lot of that measured length, and what is left one of its own."""
    stock = api.stock(cost="8.53", measured={"outside_diameter": "5.9 mm", "length": "75 mm"})
    reply = api.post(f"/v1/lots/{stock['id']}/cut", {"length": "52 mm", "note": "for the green"})
    assert reply.status == 201, reply.text
    piece, offcut = reply.body["made"]
    assert reply.headers["Location"] == f"/v1/lots/{piece['id']}"
    assert (piece["in_hand"], piece["dimensions"]["length"], piece["condition"]) == (1, 52.0, "cut")
    assert (piece["basis"]["length"], piece["measured_as_entered"]["length"]) == (
        "measured",
        "52 mm",
    )
    assert (piece["part"], piece["parent_lot"], piece["place"]) == ("SAC-15-STR", stock["id"], "A3")
    assert (offcut["dimensions"]["length"], offcut["basis"]["length"]) == (23.0, "measured")
    assert (offcut["part"], offcut["condition"], offcut["kind"]) == (None, "offcut", "sac")
    assert reply.body["taken_from"]["in_hand"] == 9
    assert minor(reply.body["taken_from"], piece, offcut) == 853
    assert minor(piece, offcut) == 85
    lines = api.get(f"/v1/movements?group={reply.body['group']}").body["movements"]
    assert [(line["verb"], line["change"], line["lot"]) for line in lines] == [
        ("cut", -1, stock["id"]),
        ("cut", 1, piece["id"]),
        ("cut", 1, offcut["id"]),
    ]


def test_offcut_of_a_nominal_length_is_nominal_and_stays_so(api: Api) -> None:
    """What is left of an unmeasured length is a claim, and no correction of the part moves it."""
    stock = api.stock()
    made = api.post(f"/v1/lots/{stock['id']}/cut", {"length": "52 mm", "quantity": 2}).body["made"]
    api.patch("/v1/parts/SAC-15-STR", {"dimensions": {"length": "80 mm"}})
    piece, offcut = (lot(api, each["id"]) for each in made)
    assert piece["dimensions"]["length"] == 52.0
    assert (offcut["dimensions"]["length"], offcut["basis"]["length"]) == (23.0, "nominal")
    assert (piece["in_hand"], offcut["in_hand"]) == (2, 2)


def test_offcut_is_never_offered_as_the_part(api: Api) -> None:
    """A fit offers the cut sac and not the open tube that was cut off it."""
    stock = api.stock(1)
    piece, offcut = api.post(f"/v1/lots/{stock['id']}/cut", {"length": "60 mm"}).body["made"]
    job = api.job()
    need = api.get(f"/v1/jobs/{job}/plan").body["needs"][0]
    shown = {each["lot"] for each in need["candidates"] + need["refused"]}
    assert piece["id"] in shown
    assert offcut["id"] not in shown


def test_without_an_offcut_the_piece_carries_the_whole_cost(api: Api) -> None:
    """An offcut thrown away takes no cost with it."""
    stock = api.stock(3, cost="1.00")
    body = {"length": "52 mm", "keep_offcut": False}
    (piece,) = api.post(f"/v1/lots/{stock['id']}/cut", body).body["made"]
    assert (piece["cost"], lot(api, stock["id"])["cost"]) == ("0.33", "0.67")


@pytest.mark.parametrize(
    ("body", "status", "pointer", "words"),
    [
        ({"length": "75 mm"}, 422, "/length", "just so long"),
        ({"length": "80 mm"}, 422, "/length", "only 75 mm"),
        ({"length": "0 mm"}, 422, "/length", ""),
        ({}, 422, "/length", "required"),
        ({"length": "52 mm", "quantity": 11}, 409, "/quantity", "at most 10"),
        ({"length": "52 mm", "keep_offcut": "yes"}, 422, "/keep_offcut", "true or false"),
    ],
)
def test_cut_refuses_what_cannot_be(
    api: Api, body: dict[str, Any], status: int, pointer: str, words: str
) -> None:
    """A length or a number that the lot does not have is refused where it stands, and says why."""
    stock = api.stock()
    refused = api.post(f"/v1/lots/{stock['id']}/cut", body)
    assert refused.status == status, refused.text
    assert refused.body["errors"][0]["pointer"] == pointer
    assert words in refused.text
    assert lot(api, stock["id"])["in_hand"] == 10


def test_unknown_length_can_be_cut_but_leaves_no_offcut(api: Api) -> None:
    """Where the length is unknown an offcut that is asked for is refused, and none is made."""
    api.stock()
    api.post("/v1/parts", {"number": "BAR", "kind": "sac", "name": "of unknown length"})
    stock = api.stock(part="BAR", measured={})
    path = f"/v1/lots/{stock['id']}/cut"
    refused = api.post(path, {"length": "40 mm", "keep_offcut": True})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (409, "/keep_offcut")
    made = api.post(path, {"length": "40 mm"}).body["made"]
    assert [each["dimensions"]["length"] for each in made] == [40.0]


def test_conversions_never_touch_promised_pieces(api: Api) -> None:
    """What is promised cannot be cut, opened or punched: 409 names the job and its reservation."""
    acts = {
        "cut": {"length": "52 mm", "quantity": 2},
        "open-kit": {"contents": [{"part": "WASHER-21"}]},
        "punch": {"part": "WASHER-21", "outside_diameter": "8 mm"},
    }
    for verb, body in acts.items():
        stock = api.stock(2) if verb == "cut" else sheet(api)
        job = api.job()
        wanted = {"lot": stock["id"], "quantity": 2 if verb != "cut" else 1}
        held = api.post(f"/v1/jobs/{job}/reservations", wanted).body["reservations"][0]["id"]
        path = f"/v1/lots/{stock['id']}/{verb}"
        refused = api.post(path, body)
        assert refused.status == 409, verb
        assert job in refused.body["detail"]
        assert refused.body["errors"][0]["reservation"] == held
        assert lot(api, stock["id"])["in_hand"] == 2
        assert api.post(path, body | {"release": [held]}).status == 201
        assert api.get(f"/v1/reservations/{held}").body["state"] == "released"


def test_used_piece_comes_back_with_its_share_of_the_cost(api: Api) -> None:
    """Put back one by one, the pieces bring back all that left with them, and no more of them."""
    lot_id, reservation = used(api)
    path = f"/v1/lots/{lot_id}/put-back"
    body = {"reservation": reservation, "condition": "used"}
    made = [api.post(path, body | {"note": "did not fit"}).body["made"][0] for _ in range(2)]
    last = {"reservation": reservation, "condition": "cut", "length": "52 mm"}
    made += api.post(path, last).body["made"]
    assert [each["condition"] for each in made] == ["used", "used", "cut"]
    assert made[2]["dimensions"]["length"] == 52.0
    assert {each["parent_lot"] for each in made} == {lot_id}
    assert minor(lot(api, lot_id), *made) == 853
    refused = api.post(path, body)
    assert (refused.status, refused.body["errors"][0]["detail"]) == (409, "at most 0")
    after = api.get(f"/v1/reservations/{reservation}").body
    assert (after["used"], after["state"]) == (3, "used")
    lines = api.get(f"/v1/movements?reservation={reservation}&verb=put_back").body["movements"]
    assert [line["change"] for line in lines] == [1, 1, 1]


def test_used_piece_is_at_best_to_be_tried_in(api: Api) -> None:
    """A measured sac that fits is only to be tried in once it was in a pen."""
    lot_id, reservation = used(api, 1, 1)
    body = {"reservation": reservation, "condition": "used"}
    back = api.post(f"/v1/lots/{lot_id}/put-back", body).body["made"][0]
    need = api.get(f"/v1/jobs/{api.job()}/plan").body["needs"][0]
    (found,) = [each for each in need["candidates"] if each["lot"] == back["id"]]
    assert found["verdict"] == "try_in"
    assert "used" in found["why"]


@pytest.mark.parametrize(
    ("body", "status", "pointer"),
    [
        ({"condition": "used"}, 422, "/reservation"),
        ({"reservation": 99, "condition": "used"}, 422, "/reservation"),
        ({"reservation": 1, "condition": "tired"}, 422, "/condition"),
        ({"reservation": 1, "condition": "cut"}, 422, "/length"),
        ({"reservation": 1, "condition": "cut", "length": "76 mm"}, 422, "/length"),
        ({"reservation": 1, "condition": "used", "quantity": 4}, 409, "/quantity"),
    ],
)
def test_put_back_refuses_what_was_not_used(
    api: Api, body: dict[str, Any], status: int, pointer: str
) -> None:
    """A reservation of another lot, a length it never had, or too many are refused by place."""
    lot_id, _ = used(api)
    refused = api.post(f"/v1/lots/{lot_id}/put-back", body)
    assert refused.status == status, refused.text
    assert refused.body["errors"][0]["pointer"] == pointer


def test_kit_becomes_what_it_holds(api: Api) -> None:
    """One kit becomes lots of its parts, as old as the kit, and its cost goes by the shares."""
    sheet(api)
    kit = api.stock(2, cost="9.99", made_on="2026-Q1")
    contents = [
        {"part": "WASHER-21", "quantity": 2, "share": 1},
        {"part": "SHEET-1", "share": 2},
    ]
    reply = api.post(f"/v1/lots/{kit['id']}/open-kit", {"contents": contents})
    assert reply.status == 201, reply.text
    washers, sheets = reply.body["made"]
    assert (washers["part"], washers["in_hand"], washers["kind"]) == ("WASHER-21", 2, "gasket")
    assert [washers["cost"], sheets["cost"], reply.body["taken_from"]["cost"]] == [
        "1.66",
        "3.33",
        "5.00",
    ]
    assert {washers["made_on"], sheets["made_on"]} == {"2026-Q1"}
    assert {washers["parent_lot"], sheets["parent_lot"]} == {kit["id"]}


@pytest.mark.parametrize(
    ("contents", "pointer"),
    [
        ([], "/contents"),
        ([{"part": "NONE"}], "/contents/0/part"),
        ([{"part": "WASHER-21"}, {"part": "SAC-15-STR"}], "/contents/1/part"),
        ([{"part": "WASHER-21", "share": 1}, {"part": "SHEET-1"}], "/contents"),
        ([{"part": "WASHER-21", "quantity": 0}], "/contents/0/quantity"),
    ],
)
def test_kit_refuses_contents_that_cannot_be(api: Api, contents: list[Any], pointer: str) -> None:
    """An empty kit, an unknown part, itself, or shares for some only are refused by place."""
    sheet(api)
    kit = api.stock(2)
    refused = api.post(f"/v1/lots/{kit['id']}/open-kit", {"contents": contents})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer), refused.text
    assert lot(api, kit["id"])["in_hand"] == 2


def test_washers_come_out_of_one_sheet(api: Api) -> None:
    """Washers are measured pieces of the sheet's rubber and thickness; its cost goes by area."""
    stock = sheet(api)
    body = {
        "part": "WASHER-21",
        "quantity": 4,
        "outside_diameter": "21/64 in",
        "inside_diameter": "3 mm",
        "offcuts": [{"width": "100 mm", "length": "190 mm"}],
    }
    reply = api.post(f"/v1/lots/{stock['id']}/punch", body)
    assert reply.status == 201, reply.text
    washers, offcut = reply.body["made"]
    assert (washers["in_hand"], washers["material"], washers["kind"]) == (4, "nbr", "gasket")
    assert washers["measured"] == {
        "outside_diameter": 8.334375,
        "inside_diameter": 3.0,
        "thickness": 1.5,
    }
    assert (offcut["condition"], offcut["part"], offcut["kind"]) == ("offcut", None, "sheet")
    assert offcut["measured"] == {"width": 100.0, "length": 190.0, "thickness": 1.5}
    # Of 5.00 for one sheet of 200 mm, the 190 mm that are left carry nineteen twentieths.
    assert [washers["cost"], offcut["cost"], reply.body["taken_from"]["cost"]] == [
        "0.25",
        "4.75",
        "5.01",
    ]
    again = api.post(f"/v1/lots/{offcut['id']}/punch", body | {"offcuts": []})
    assert again.status == 201
    assert [each["cost"] for each in again.body["made"]] == ["4.75"]


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"offcuts": [{"width": "101 mm", "length": "190 mm"}]}, 422, "/offcuts/0"),
        ({"offcuts": [{"width": "190 mm", "length": "101 mm"}]}, 422, "/offcuts/0"),
        ({"offcuts": [{"width": "100 mm", "length": "200 mm"}]}, 422, "/offcuts"),
        ({"offcuts": [{"width": "100 mm", "length": "101 mm"}] * 2}, 422, "/offcuts"),
        ({"quantity": 369}, 422, "/offcuts"),
        ({"outside_diameter": "101 mm", "quantity": 1}, 422, "/outside_diameter"),
        ({"inside_diameter": "9 mm"}, 422, "/inside_diameter"),
        ({"part": "NONE"}, 422, "/part"),
    ],
)
def test_punch_refuses_more_than_the_sheet(
    api: Api, change: dict[str, Any], status: int, pointer: str
) -> None:
    """Washers and offcuts that are together larger than the sheet are refused by place."""
    stock = sheet(api)
    body = {"part": "WASHER-21", "quantity": 4, "outside_diameter": "8.333 mm"}
    refused = api.post(f"/v1/lots/{stock['id']}/punch", body | change)
    assert refused.status == status, refused.text
    assert refused.body["errors"][0]["pointer"] == pointer
    assert lot(api, stock["id"])["in_hand"] == 2


def test_only_a_sheet_can_be_punched(api: Api) -> None:
    """A lot without width is no sheet, and its refusal says so."""
    sheet(api)
    stock = api.stock()
    body = {"part": "WASHER-21", "outside_diameter": "8 mm"}
    refused = api.post(f"/v1/lots/{stock['id']}/punch", body)
    assert refused.status == 409
    assert "width" in refused.body["detail"]


def test_a_conversion_repeated_with_its_key_is_done_once(api: Api) -> None:
    """The same key gets the same answer, and the lot is cut once."""
    stock = api.stock()
    path = f"/v1/lots/{stock['id']}/cut"
    first, again = (
        api.post(path, {"length": "52 mm"}, Idempotency_Key="cut-once") for _ in range(2)
    )
    assert (first.status, first.text) == (again.status, again.text)
    assert lot(api, stock["id"])["in_hand"] == 9


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    cost=st.integers(0, 10_000),
    cuts=st.lists(st.tuples(st.integers(1, 3), st.integers(1, 74)), min_size=1, max_size=4),
)
def test_cost_adds_up_to_the_last_unit(api: Api, cost: int, cuts: list[tuple[int, int]]) -> None:
    """However a lot is cut, it and all that came of it cost what was paid."""
    stock = api.stock(12, cost=f"{cost // 100}.{cost % 100:02d}")
    made: list[dict[str, Any]] = []
    for quantity, length in cuts:
        body = {"length": f"{length} mm", "quantity": quantity}
        made += api.post(f"/v1/lots/{stock['id']}/cut", body).body["made"]
    assert minor(lot(api, stock["id"]), *made) == cost


def test_audit_sees_a_conversion_that_loses_cost(api: Api, database: Database) -> None:
    """A group of a cut whose cost does not add up is a fault, and so is too much put back."""
    lot_id, reservation = used(api)
    group = api.post(f"/v1/lots/{lot_id}/cut", {"length": "52 mm"}).body["group"]
    body = {"reservation": reservation, "condition": "used", "quantity": 3}
    api.post(f"/v1/lots/{lot_id}/put-back", body)
    columns = "act_id, lot_id, verb, change, cost_change_minor, pieces, place_id, reservation_id"
    with read(database) as session:
        for verb, reserved, change in (("cut", "NULL", 0), ("put_back", reservation, 1)):
            session.execute(
                text(
                    f"INSERT INTO movement ({columns}) SELECT {group}, lot.id, '{verb}', {change}, "
                    f"-1, {change}, place_id, {reserved} FROM lot WHERE id = {lot_id}"
                )
            )
        faults = audit(session).faults
    assert f"group {group}: pieces became others, and their cost changed by -1" in faults
    assert f"reservation {reservation}: more was put back than was used" in faults


@pytest.mark.parametrize(
    "place",
    [
        faults.AFTER_KEY_CLAIMED,
        faults.AFTER_BALANCE_CHANGED,
        faults.AFTER_LEDGER_WRITTEN,
        faults.BEFORE_COMMIT,
        faults.AFTER_COMMIT,
    ],
)
def test_a_failure_anywhere_leaves_all_or_nothing(api: Api, place: str) -> None:
    """Wherever a write fails, a repeat with its key makes it whole, and has one effect."""
    stock, sheets = api.stock(20, cost="9.97"), sheet(api)
    lot_id, reservation = used(api)
    group = api.post(f"/v1/lots/{lot_id}/cut", {"length": "30 mm"}).body["group"]
    writes: dict[str, dict[str, Any]] = {
        f"/v1/lots/{stock['id']}/cut": {"length": "52 mm", "quantity": 3},
        f"/v1/lots/{lot_id}/put-back": {"reservation": reservation, "condition": "used"},
        f"/v1/lots/{stock['id']}/open-kit": {"contents": [{"part": "WASHER-21"}]},
        f"/v1/lots/{sheets['id']}/punch": {"part": "WASHER-21", "outside_diameter": "8 mm"},
        f"/v1/movements/{group}/undo": {},
        "/v1/drawers/A3/counts": {"counts": [{"lot": stock["id"], "counted": 9}]},
    }
    for number, (path, body) in enumerate(writes.items()):
        if "put-back" in path and place == faults.AFTER_BALANCE_CHANGED:
            continue  # it takes from no lot, so no balance moves
        before = len(api.get("/v1/movements?limit=500").body["movements"])
        faults.arm(place, fail)
        lost = api.post(path, body, Idempotency_Key=f"write-{number}")
        faults.disarm()
        assert lost.status == 500, path
        done = len(api.get("/v1/movements?limit=500").body["movements"])
        assert (done > before) == (place == faults.AFTER_COMMIT), path
        first, again = (api.post(path, body, Idempotency_Key=f"write-{number}") for _ in range(2))
        assert first.status in {200, 201}, first.text
        assert first.text == again.text
        after = len(api.get("/v1/movements?limit=500").body["movements"])
        assert after == (done if place == faults.AFTER_COMMIT else done + lines_of(api, first.body))


def fail() -> None:
    """Fail, as an armed place does."""
    raise RuntimeError("armed")


def lines_of(api: Api, body: dict[str, Any]) -> int:
    """Return how many lines the group of an answer has."""
    return len(api.get(f"/v1/movements?group={body['group']}").body["movements"])


def at_once(api: Api, times: int, path: str, body: dict[str, Any]) -> list[int]:
    """Send the same request from several threads at one moment; return how each was answered."""
    start = threading.Barrier(times)

    def send(_number: int) -> int:
        each = Api(api.app, api.token)
        start.wait()
        return each.post(path, body).status

    with ThreadPoolExecutor(times) as pool:
        return sorted(pool.map(send, range(times)))


def test_races_give_out_no_piece_twice(api: Api) -> None:
    """Six at once put three used pieces back, cut four, and undo one act: so many and no more."""
    lot_id, reservation = used(api, 3, 7)
    put_back = {"reservation": reservation, "condition": "used"}
    assert at_once(api, 6, f"/v1/lots/{lot_id}/put-back", put_back) == [201] * 3 + [409] * 3
    assert at_once(api, 6, f"/v1/lots/{lot_id}/cut", {"length": "52 mm"}) == [201] * 4 + [409] * 2
    group = api.get(f"/v1/movements?lot={lot_id}&verb=cut").body["movements"][-1]["group"]
    assert at_once(api, 6, f"/v1/movements/{group}/undo", {}) == [200] + [409] * 5
    assert lot(api, lot_id)["in_hand"] == 1


def test_punching_keeps_the_rest_as_sheet_unless_told_otherwise(api: Api) -> None:
    """What is taken and left is said, and the rest is an offcut of its own."""
    stock = sheet(api)
    body = {"part": "WASHER-21", "quantity": 6, "outside_diameter": "8 mm"}
    reply = api.post(f"/v1/lots/{stock['id']}/punch", body)
    assert reply.status == 201, reply.text
    _, offcut = reply.body["made"]
    assert (offcut["condition"], offcut["kind"]) == ("offcut", "sheet")
    assert (offcut["measured"]["width"], offcut["measured"]["length"]) == (100.0, 191.0)
    assert reply.body["says"] == (
        "one sheet of 100 mm by 200 mm is taken; 6 washers take a strip of 9 mm by 100 mm with a "
        f"web of 1 mm; kept of it: 100 mm by 191 mm as bag {offcut['id']}"
    )
    told = api.post(f"/v1/lots/{offcut['id']}/punch", body | {"offcuts": []}).body
    assert len(told["made"]) == 1
    assert told["says"].endswith("; nothing of it is kept")
