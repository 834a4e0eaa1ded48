"""Counting a whole drawer: the sheet, and all differences in one group or none."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api

COUNTS = "/v1/drawers/A3/counts"


def three(api: Api) -> list[int]:
    """Return three lots of ten in the drawer A3."""
    return [api.stock(cost="1.00", label=f"bag {number}")["id"] for number in range(3)]


def in_hand(api: Api, lots: list[int]) -> list[int]:
    """Return what is in hand of lots."""
    return [api.get(f"/v1/lots/{lot_id}").body["in_hand"] for lot_id in lots]


def held(api: Api, lot_id: int, quantity: int) -> tuple[str, int]:
    """Promise pieces of a lot; return the job and the reservation."""
    job = api.job()
    body = {"lot": lot_id, "quantity": quantity}
    made = api.post(f"/v1/jobs/{job}/reservations", body).body["reservations"]
    return job, made[0]["id"]


def lines(api: Api) -> int:
    """Return how many lines the ledger has."""
    return len(api.get("/v1/movements?limit=500").body["movements"])


def test_sheet_says_what_should_be_found(api: Api) -> None:
    """Each lot of the drawer is a line, with what is promised, to whom, and what is in trays."""
    first, second, third = three(api)
    job, reservation = held(api, second, 4)
    other, _ = held(api, second, 1)
    api.post(f"/v1/reservations/{reservation}/fetch", {"quantity": 3})
    api.post(f"/v1/lots/{third}/discard", {"quantity": 10})
    api.post("/v1/drawers", {"code": "B1"})
    reply = api.get("/v1/drawers/A3/count-sheet")
    assert reply.status == 200, reply.text
    assert [line["lot"] for line in reply.body["lines"]] == [first, second]
    assert reply.body["lines"][1] == {
        "lot": second,
        "part": "SAC-15-STR",
        "kind": "sac",
        "label": "bag 1",
        "condition": None,
        "in_hand": 10,
        "promised": 5,
        "jobs": [job, other],
        "in_trays": 3,
    }
    assert api.get("/v1/drawers/B1/count-sheet").body["lines"] == []
    assert api.get("/v1/drawers/Z9/count-sheet").status == 404


def test_sheet_comes_a_page_at_a_time(api: Api) -> None:
    """The next page begins after the last line of this one."""
    lots = three(api)
    page = api.get("/v1/drawers/A3/count-sheet?limit=2")
    assert page.headers["Link"] == f'<{page.body["next"]}>; rel="next"'
    rest = api.get(page.body["next"]).body
    assert [line["lot"] for line in page.body["lines"] + rest["lines"]] == lots
    assert rest["next"] is None


def test_counts_are_one_group_and_name_what_was_left_out(api: Api) -> None:
    """All counts stand in one group with their reason; lots not counted are listed."""
    first, second, third = three(api)
    body = {
        "counts": [{"lot": second, "counted": 12}, {"lot": first, "counted": 7}],
        "reason": "end of the year",
    }
    reply = api.post(COUNTS, body)
    assert reply.status == 200, reply.text
    assert in_hand(api, [first, second, third]) == [7, 12, 10]
    assert reply.body["counted"] == [
        {"lot": first, "expected": 10, "counted": 7, "difference": -3},
        {"lot": second, "expected": 10, "counted": 12, "difference": 2},
    ]
    assert [line["lot"] for line in reply.body["not_counted"]] == [third]
    group = api.get(f"/v1/movements?group={reply.body['group']}").body["movements"]
    assert [(line["verb"], line["change"], line["note"]) for line in group] == [
        ("counted", -3, "end of the year"),
        ("counted", 2, "end of the year"),
    ]
    assert api.get(f"/v1/lots/{first}").body["cost"] == "0.70"


def test_less_than_promised_is_refused_for_all_lots_together(api: Api) -> None:
    """Every lot that would break a promise is named with its jobs, and nothing is posted."""
    first, second, third = three(api)
    job, reservation = held(api, first, 4)
    other, _ = held(api, second, 2)
    before = lines(api)
    body = {
        "counts": [
            {"lot": third, "counted": 1},
            {"lot": first, "counted": 3},
            {"lot": second, "counted": 0},
        ]
    }
    refused = api.post(COUNTS, body)
    assert refused.status == 409
    assert job in refused.body["detail"]
    assert other in refused.body["detail"]
    assert [(error["pointer"], error["lot"], error["job"]) for error in refused.body["errors"]] == [
        ("/counts/1/counted", first, job),
        ("/counts/2/counted", second, other),
    ]
    assert (in_hand(api, [first, second, third]), lines(api)) == ([10, 10, 10], before)
    body["counts"].pop()
    assert api.post(COUNTS, body | {"release": [reservation]}).status == 200
    assert in_hand(api, [first, second, third]) == [3, 10, 1]
    assert api.get(f"/v1/reservations/{reservation}").body["state"] == "released"


def test_a_lot_that_lies_elsewhere_is_refused_with_its_place(api: Api) -> None:
    """What was moved away meanwhile is 409, says where it lies now, and nothing is posted."""
    first, second, _ = three(api)
    api.post("/v1/drawers", {"code": "B1"})
    api.post(f"/v1/lots/{second}/move", {"drawer": "B1"})
    counts = [{"lot": first, "counted": 1}, {"lot": second, "counted": 1}]
    refused = api.post(COUNTS, {"counts": counts})
    assert refused.status == 409
    assert refused.body["errors"][0]["pointer"] == "/counts/1/lot"
    assert refused.body["errors"][0]["place"] == "B1"
    assert in_hand(api, [first, second]) == [10, 10]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/counts"),
        ({"counts": []}, "/counts"),
        ({"counts": [{"lot": 99, "counted": 1}]}, "/counts/0/lot"),
        ({"counts": [{"lot": 1, "counted": 1}, {"lot": 1, "counted": 2}]}, "/counts/1/lot"),
        ({"counts": [{"lot": 1, "counted": -1}]}, "/counts/0/counted"),
        ({"counts": [{"lot": 1}]}, "/counts/0/counted"),
        ({"counts": [{"lot": 1, "counted": 1}], "release": [77]}, "/release/0"),
    ],
)
def test_counts_that_cannot_be_are_refused_by_place(
    api: Api, body: dict[str, Any], pointer: str
) -> None:
    """Nothing counted, a lot twice or unknown, or fewer than none is 422 where it stands."""
    three(api)
    refused = api.post(COUNTS, body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer), refused.text


def test_counts_repeated_with_their_key_are_posted_once(api: Api) -> None:
    """A stocktake sent again over a bad line has one effect."""
    first, _, _ = three(api)
    body = {"counts": [{"lot": first, "counted": 8}]}
    one, two = (api.post(COUNTS, body, Idempotency_Key="drawer-A3") for _ in range(2))
    assert (one.status, one.text) == (two.status, two.text)
    assert len(api.get(f"/v1/movements?lot={first}&verb=counted").body["movements"]) == 1


def test_a_drawer_may_not_be_called_like_a_tray_or_a_donor(api: Api) -> None:
    """Numbers of jobs and donors name places of their own, so no drawer may have one."""
    for code in ("JOB-0001", "DON-0001"):
        refused = api.post("/v1/drawers", {"code": code})
        assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/code")
    assert api.post("/v1/drawers", {"code": "JOB-1"}).status == 201
