"""Orders sent, and parcels received: whole, in part, and of the wrong size."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from sparewell.audit.parcels import supply_faults
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from support.api import Api
from support.supply import PART, due, made, offer, part, sent_order, supplier


@pytest.fixture
def order(api: Api) -> dict[str, Any]:
    """Two packs of ten sacs, sent."""
    api.stock()
    return sent_order(api, offer(api, supplier(api)))


def bag(order: dict[str, Any], quantity: int, **more: Any) -> dict[str, Any]:
    """Return one bag for the first line of an order."""
    return {"line": order["lines"][0]["id"], "drawer": "A3", "quantity": quantity} | more


def receive(api: Api, order: dict[str, Any], *bags: dict[str, Any]) -> Any:
    """Send a parcel in."""
    return api.post(f"/v1/orders/{order['number']}/parcels", {"lines": list(bags)})


def test_an_order_adds_up(api: Api) -> None:
    """A draft takes the price of the break it reaches, and the supplier's postage."""
    api.stock()
    sold_by = supplier(api, free_postage_from="20", minimum_order="10")
    prices = [{"packs": 1, "price": "3.00"}, {"packs": 5, "price": "2.50"}]
    offered = offer(api, sold_by, prices=prices)
    for packs, goods, postage, warned in (
        (1, "3.00", "4.50", 1),
        (4, "12.00", "4.50", 0),
        (5, "12.50", "4.50", 0),
        (8, "20.00", "0.00", 0),
    ):
        lines = [{"offer": offered, "packs": packs}]
        found = made(api.post("/v1/orders", {"supplier": sold_by, "lines": lines}))
        assert (found["state"], found["goods"], found["postage"]) == ("draft", goods, postage)
        assert len(found["warnings"]) == warned


def test_an_order_may_be_of_what_no_offer_names(api: Api) -> None:
    """A line may name a part and its price, and what is missing is refused where it belongs."""
    api.stock()
    sold_by = supplier(api)
    line = {"part": PART, "packs": 3, "price": "1.20"}
    found = made(api.post("/v1/orders", {"supplier": sold_by, "lines": [line]}))
    assert (found["goods"], found["lines"][0]["pieces"]) == ("3.60", 3)
    for missing in ("part", "price"):
        short = {name: value for name, value in line.items() if name != missing}
        refused = api.post("/v1/orders", {"supplier": sold_by, "lines": [short]})
        assert refused.body["errors"][0]["pointer"] == f"/lines/0/{missing}"


def test_only_a_draft_is_sent_and_only_what_was_sent_arrives(
    api: Api, order: dict[str, Any]
) -> None:
    """Sending twice is a conflict, and so is a parcel of a draft."""
    assert order["state"] == "sent"
    assert order["sent_at"]
    assert api.post(f"/v1/orders/{order['number']}/send").status == 409
    line = {"offer": order["lines"][0]["offer"], "packs": 1}
    draft = made(api.post("/v1/orders", {"supplier": order["supplier"], "lines": [line]}))
    assert receive(api, draft, bag(draft, 10)).status == 409


def test_a_whole_parcel_becomes_lots_in_one_group(api: Api, order: dict[str, Any]) -> None:
    """Two bags are two lots that arrived together, and carry what the order paid for them."""
    found = receive(api, order, bag(order, 13, made_on="2026-03", label="15"), bag(order, 7))
    assert found.status == 201, found.text
    assert api.get(found.headers["Location"]).body == found.body
    assert found.body["differences"] == []
    group = api.get(f"/v1/movements?group={found.body['group']}").body["movements"]
    assert [(line["verb"], line["change"]) for line in group] == [("arrived", 13), ("arrived", 7)]
    lots = [api.get(f"/v1/lots/{line['lot']}").body for line in found.body["lines"]]
    assert [lot["cost"] for lot in lots] == ["3.90", "2.10"]
    assert (lots[0]["made_on"], lots[0]["label"]) == ("2026-03", "15")
    assert api.get(f"/v1/orders/{order['number']}").body["state"] == "received"


def test_what_is_short_stays_on_order(api: Api, order: dict[str, Any]) -> None:
    """A part of an order is said to be short; the rest is on order until it comes."""
    first = receive(api, order, bag(order, 12)).body
    assert [each["what"] for each in first["differences"]] == ["short"]
    assert "8 stay on order" in first["differences"][0]["detail"]
    assert api.get(f"/v1/orders/{order['number']}").body["state"] == "partly_received"
    assert receive(api, order, bag(order, 8)).body["differences"] == []
    assert api.get(f"/v1/orders/{order['number']}").body["state"] == "received"


def test_the_rest_is_given_up_with_a_reason(api: Api, order: dict[str, Any]) -> None:
    """Giving up what is short ends the order as received, and says why."""
    receive(api, order, bag(order, 12))
    path = f"/v1/orders/{order['number']}/cancel"
    assert api.post(path, {}).status == 422
    line_id = order["lines"][0]["id"]
    too_many = api.post(path, {"why": "sold out", "lines": [{"line": line_id, "pieces": 9}]})
    assert (too_many.status, too_many.body["errors"][0]["pointer"]) == (409, "/lines/0/pieces")
    ended = made(api.post(path, {"why": "sold out", "lines": [{"line": line_id, "pieces": 8}]}))
    (line,) = ended["lines"]
    assert (ended["state"], line["given_up"], line["rest"]) == ("received", 8, 0)
    assert line["given_up_why"] == "sold out"
    assert api.post(path, {"why": "again"}).status == 409


def test_a_whole_order_is_cancelled(api: Api, order: dict[str, Any]) -> None:
    """An order of which nothing came is cancelled, and takes no parcel any more."""
    path = f"/v1/orders/{order['number']}"
    ended = made(api.post(f"{path}/cancel", {"why": "too dear"}))
    assert (ended["state"], ended["cancelled_why"]) == ("cancelled", "too dear")
    assert api.post(f"{path}/cancel", {"why": "again"}).status == 409
    assert receive(api, order, bag(order, 1)).status == 409


def test_too_many_are_said_and_cost_nothing(api: Api, order: dict[str, Any]) -> None:
    """More than was ordered comes in, is said, and costs no more than the order did."""
    found = receive(api, order, bag(order, 25)).body
    assert [each["what"] for each in found["differences"]] == ["too_many"]
    assert api.get(f"/v1/lots/{found['lines'][0]['lot']}").body["cost"] == "6.00"
    assert found["order_lines"][0]["rest"] == 0


def test_a_bag_of_the_wrong_size_is_said(api: Api, order: dict[str, Any]) -> None:
    """The bag as measured is held against the packet's claim and against what was ordered."""
    wrong = bag(
        order,
        10,
        label="15",
        measured={"outside_diameter": "6.35 mm"},
        claimed={"outside_diameter": "15/64 in"},
    )
    found = receive(api, order, wrong, bag(order, 10, measured={"outside_diameter": "5.9 mm"}))
    said = [each["detail"] for each in found.body["differences"]]
    assert [each["what"] for each in found.body["differences"]] == ["wrong_size"] * 2
    assert "its packet claims" in said[0]
    assert f"{PART} has" in said[1]
    claims = bag(order, 1, claimed={"outside_diameter": "16/64 in"})
    by_packet = receive(api, order, claims).body["differences"]
    assert "is by its packet" in by_packet[0]["detail"]


def test_the_tolerance_is_the_workshops(api: Api, order: dict[str, Any]) -> None:
    """With a wider tolerance the same bag is not said to be wrong."""
    setting = {"value": "0.5 mm", "why": "soft rubber"}
    assert api.patch("/v1/settings/supply.size_tolerance", setting).status == 200
    found = receive(api, order, bag(order, 20, measured={"outside_diameter": "6.35 mm"}))
    assert found.body["differences"] == []


def test_another_part_does_not_count_for_the_line(api: Api, order: dict[str, Any]) -> None:
    """Pieces of another part become its lot, and the order goes on waiting for its own."""
    part(api, "SAC-16", dimensions={"outside_diameter": "16/64 in"})
    found = receive(api, order, bag(order, 20, part="SAC-16")).body
    assert {each["what"] for each in found["differences"]} == {"other_part", "short"}
    assert api.get(f"/v1/lots/{found['lines'][0]['lot']}").body["part"] == "SAC-16"
    assert found["order_lines"][0]["rest"] == 20
    refused = receive(api, order, bag(order, 20, counts=False)).body
    assert (refused["lines"][0]["counted"], refused["order_lines"][0]["rest"]) == (0, 20)


def test_a_fault_in_a_bag_is_said_where_it_stands(api: Api, order: dict[str, Any]) -> None:
    """A bag that cannot be is refused at its place in the parcel, and nothing comes in."""
    for fault, pointer in (
        ({"drawer": "Z9"}, "/lines/1/drawer"),
        ({"line": 999}, "/lines/1/line"),
        ({"part": "NONE"}, "/lines/1/part"),
        ({"measured": {"wire_diameter": "1 mm"}}, "/lines/1/measured/wire_diameter"),
    ):
        refused = receive(api, order, bag(order, 10), bag(order, 10) | fault)
        assert refused.status == 422, refused.text
        assert refused.body["errors"][0]["pointer"] == pointer
    assert api.get(f"/v1/orders/{order['number']}").body["state"] == "sent"
    assert len(api.get("/v1/lots").body["lots"]) == 1


def test_an_undone_parcel_is_on_order_again(api: Api, order: dict[str, Any]) -> None:
    """Undoing a parcel's group in the ledger takes its lots out and puts the order back."""
    parcel = receive(api, order, bag(order, 20)).body
    assert api.get(f"/v1/orders/{order['number']}").body["state"] == "received"
    assert api.post(f"/v1/movements/{parcel['group']}/undo").status == 200
    found = api.get(f"/v1/orders/{order['number']}").body
    assert (found["state"], found["lines"][0]["rest"]) == ("sent", 20)
    path = f"/v1/orders/{order['number']}/parcels/{parcel['id']}"
    assert api.get(path).body["undone"] is True


def test_a_repeated_parcel_comes_once(api: Api, order: dict[str, Any]) -> None:
    """A parcel sent again with its key is answered as before and makes no second lot."""
    path = f"/v1/orders/{order['number']}/parcels"
    body = {"lines": [bag(order, 20)]}
    first = api.post(path, body, Idempotency_Key="parcel-1")
    again = api.post(path, body, Idempotency_Key="parcel-1")
    assert first.body == again.body
    assert again.headers["Idempotency-Replayed"] == "true"
    assert len(api.get(path).body["parcels"]) == 1
    assert api.get(f"/v1/orders/{order['number']}").body["lines"][0]["received"] == 20


def test_an_order_is_changed_with_its_tag(api: Api, order: dict[str, Any]) -> None:
    """Note and postage may be put right, with the tag of what was read."""
    path = f"/v1/orders/{order['number']}"
    changed = api.patch(path, {"postage": "5.00", "note": "by rail"})
    assert (changed.body["total"], changed.body["note"]) == ("11.00", "by rail")
    assert api.call("PATCH", path, {"note": ""}).status == 428


def test_orders_are_listed_by_state(api: Api, order: dict[str, Any], clock: Clock) -> None:
    """The list is narrowed by supplier and by state."""
    clock.now += timedelta(days=1)
    for query, count in (
        ("state=sent", 1),
        ("state=draft", 0),
        (f"supplier={order['supplier']}", 1),
        ("supplier=99", 0),
    ):
        assert len(api.get(f"/v1/orders?{query}").body["orders"]) == count


def test_what_is_on_its_way_counts(api: Api, order: dict[str, Any]) -> None:
    """The list of what to order counts what is on its way, less what came or was given up."""
    made(
        api.patch(
            f"/v1/parts/{PART}/threshold",
            {"policy": "keep_at_least", "parameters": {"pieces": 100}, "why": "a fair"},
        )
    )
    assert due(api)[PART]["on_order"] == 20
    receive(api, order, bag(order, 12))
    assert (due(api)[PART]["on_order"], due(api)[PART]["available"]) == (8, 22)
    api.post(f"/v1/orders/{order['number']}/cancel", {"why": "sold out"})
    assert due(api)[PART]["on_order"] == 0


def test_the_audit_sees_a_parcel_that_is_not_in_the_ledger(
    api: Api, order: dict[str, Any], database: Database
) -> None:
    """Parcels and ledger agree, and a bag that says other than the ledger is named."""
    receive(api, order, bag(order, 12))
    with read(database) as session:
        assert list(supply_faults(session)) == []
    with database.writer.begin() as connection:
        connection.exec_driver_sql("UPDATE parcel_line SET pieces = 13")
    with read(database) as session:
        (fault,) = supply_faults(session)
    assert "13" in fault
    assert "12" in fault
