"""Pens bought together: what was paid is divided to the last unit, and is what each cost."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import text

from sparewell.audit.pieces import audit
from sparewell.audit.purchases import purchase_faults
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from support.api import Api, Reply
from support.supply import made

NIB = {"kind": "nib", "state": "present"}
CAP = {"kind": "cap", "state": "present"}
FEED = {"kind": "feed"}


def donor(api: Api, *components: dict[str, Any], **more: Any) -> str:
    """Keep a donor; return its number."""
    body = {"called": "a wreck", "components": list(components)} | more
    return str(made(api.post("/v1/donors", body))["number"])


def buy(api: Api, *lines: dict[str, Any], price: str = "100.00", **more: Any) -> Reply:
    """Enter a purchase."""
    return api.post("/v1/purchases", {"price": price, "lines": list(lines)} | more)


def shares_of(reply: Reply) -> list[str]:
    """Return the shares of a purchase's lines."""
    return [line["share"] for line in made(reply)["lines"]]


def cost_of(api: Api, number: str) -> str | None:
    """Return what a pen or a donor cost, as it says itself."""
    where = "pens" if number.startswith("PEN") else "donors"
    cost: str | None = api.get(f"/v1/{where}/{number}").body["cost"]
    return cost


def piece_costs(api: Api, number: str) -> list[str | None]:
    """Return what the pieces of a donor carry, in the order of its checklist."""
    return [each["cost"] for each in api.get(f"/v1/donors/{number}").body["components"]]


def no_faults(database: Database) -> None:
    """Assert that balances agree with the ledger, and shares with what was paid."""
    with read(database) as session:
        assert (audit(session).faults, list(purchase_faults(session))) == ((), [])


def test_what_was_paid_is_divided_evenly_with_its_postage(api: Api) -> None:
    """Price and postage are divided over pens and donors, and each says its share as its cost."""
    lines = [{"pen": api.pen()}, {"pen": api.pen()}, {"donor": donor(api)}]
    reply = buy(api, *lines, postage="0.01", bought_from="a house sale", bought_on="2026-11-20")
    assert reply.status == 201, reply.text
    assert (reply.body["total"], reply.body["divided"]) == ("100.01", "evenly")
    assert sorted(shares_of(reply)) == ["33.33", "33.34", "33.34"]
    kept = api.get("/v1/purchases/1")
    assert (kept.body, kept.headers["ETag"]) == (reply.body, reply.headers["ETag"])
    assert api.get("/v1/purchases").body["purchases"] == [reply.body]
    assert [cost_of(api, line["pen"] or line["donor"]) for line in kept.body["lines"]] == (
        shares_of(kept)
    )
    pen = api.get("/v1/pens/PEN-0001").body
    assert (pen["purchase"], pen["cost"]) == (1, shares_of(kept)[0])


def test_what_was_paid_is_divided_by_what_each_might_fetch(api: Api) -> None:
    """The value of a line is kept with the pen; one that has a value need not be given it again."""
    api.pen(), api.pen()
    api.patch("/v1/pens/PEN-0002", {"might_fetch": "60.00"})
    reply = buy(api, {"pen": "PEN-0001", "value": "30"}, {"pen": "PEN-0002"}, divided="by_value")
    assert shares_of(reply) == ["33.33", "66.67"]
    assert api.get("/v1/pens/PEN-0001").body["might_fetch"] == "30.00"


def test_amounts_given_by_hand_have_to_add_up(api: Api) -> None:
    """What is too much or missing is said, and nothing is entered; what adds up is taken."""
    api.pen(), api.pen()
    lines = [{"pen": "PEN-0001", "amount": "10"}, {"pen": "PEN-0002", "amount": "30"}]
    refused = buy(api, *lines, price="38.50", postage="4", divided="by_hand")
    assert refused.status == 422
    assert "come to 40.00" in refused.text
    assert "2.50 is missing" in refused.text
    assert api.get("/v1/purchases").body["purchases"] == []
    assert cost_of(api, "PEN-0001") is None
    assert shares_of(buy(api, *lines, price="40", divided="by_hand")) == ["10.00", "30.00"]


@pytest.mark.parametrize(
    ("said", "pointer"),
    [
        ({"lines": []}, "/lines"),
        ({"lines": [{}]}, "/lines/0/pen"),
        ({"lines": [{"pen": "PEN-0001", "donor": "DON-0001"}]}, "/lines/0/pen"),
        ({"lines": [{"pen": "PEN-0099"}]}, "/lines/0/pen"),
        ({"lines": [{"pen": "DON-0001"}]}, "/lines/0/pen"),
        ({"lines": [{"donor": "DON-0002"}]}, "/lines/0/donor"),
        ({"lines": [{"pen": "PEN-0001"}, {"pen": "PEN-0001"}]}, "/lines/1/pen"),
        ({"lines": [{"pen": "PEN-0001", "amount": "1"}]}, "/lines/0/amount"),
        ({"divided": "by_value"}, "/lines/0/value"),
        ({"divided": "by_value", "lines": [{"pen": "PEN-0001", "value": 0}]}, "/lines"),
        ({"divided": "by_hand"}, "/lines/0/amount"),
        ({"divided": "by weight"}, "/divided"),
        ({"price": None}, "/price"),
        ({"price": "-1"}, "/price"),
        ({"bought_on": "yesterday"}, "/bought_on"),
    ],
)
def test_what_cannot_be_a_purchase_is_refused(api: Api, said: dict[str, Any], pointer: str) -> None:
    """Each is 422 where the fault is; a donor made of a pen is bought as that pen."""
    api.pen()
    donor(api)
    api.post(f"/v1/pens/{api.pen()}/to-donor")
    body = {"price": "10.00", "lines": [{"pen": "PEN-0001"}]} | said
    refused = api.post("/v1/purchases", body)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer), refused.text


def test_a_pen_is_bought_once_and_its_cost_is_said_in_one_place(api: Api) -> None:
    """A second purchase of it is 409, and so is a cost of its own; any other change is free."""
    pen = api.pen()
    made(buy(api, {"pen": pen}))
    again = buy(api, {"pen": pen})
    assert (again.status, again.body["errors"][0]["purchase"]) == (409, 1)
    refused = api.patch(f"/v1/pens/{pen}", {"cost": "5.00"})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (409, "/cost")
    assert made(api.patch(f"/v1/pens/{pen}", {"note": "a crack", "cost": "100.00"}))
    kept = donor(api)
    made(api.patch("/v1/purchases/1", {"lines": [{"donor": kept}]}))
    assert cost_of(api, pen) is None
    assert api.patch(f"/v1/donors/{kept}", {"cost": "5.00"}).status == 409
    assert made(api.patch(f"/v1/pens/{pen}", {"cost": "5.00"}))["cost"] == "5.00"


def test_a_purchase_is_divided_anew(api: Api) -> None:
    """A change of the price moves every share; by hand the present ones stay while they add up."""
    api.pen(), api.pen()
    made(buy(api, {"pen": "PEN-0001"}, {"pen": "PEN-0002"}))
    assert shares_of(api.patch("/v1/purchases/1", {"postage": "5"})) == ["52.50", "52.50"]
    assert shares_of(api.patch("/v1/purchases/1", {"divided": "by_hand"})) == ["52.50", "52.50"]
    refused = api.patch("/v1/purchases/1", {"price": "90"})
    assert (refused.status, "10.00 too much" in refused.text) == (422, True)
    said = {"price": "90", "divided": "by_value"}
    lines = [{"pen": "PEN-0001", "value": "1"}, {"pen": "PEN-0002", "value": "18"}]
    assert shares_of(api.patch("/v1/purchases/1", said | {"lines": lines})) == ["5.00", "90.00"]
    before = api.get("/v1/purchases/1")
    noted = api.patch("/v1/purchases/1", {"note": "seller paid"})
    assert made(noted)["lines"] == before.body["lines"]
    stale = api.call("PATCH", "/v1/purchases/1", {"price": "1"}, If_Match=before.headers["ETag"])
    assert stale.status == 412
    assert api.call("PATCH", "/v1/purchases/1", {"price": "1"}).status == 428


def test_shares_that_do_not_add_up_are_a_fault(api: Api, database: Database) -> None:
    """Whatever else writes to the database, the audit sees that a unit is missing."""
    made(buy(api, {"pen": api.pen()}, {"donor": donor(api)}, postage="3.00"))
    no_faults(database)
    with database.writer.begin() as connection:
        connection.execute(text("UPDATE pen SET cost_minor = cost_minor - 1"))
    with read(database) as session:
        (fault,) = purchase_faults(session)
    assert fault == "purchase 1: 103.00 was paid, and its shares add up to 102.99"


def test_a_donors_share_lies_on_its_pieces(api: Api, database: Database) -> None:
    """By their values where any has one, else evenly; what was fitted keeps what it took."""
    wreck = donor(api, NIB, CAP, FEED)
    pen = api.pen()
    made(buy(api, {"pen": pen}, {"donor": wreck}, price="20.00"))
    assert piece_costs(api, wreck) == ["3.33", "3.33", "3.34"]
    nib = api.get(f"/v1/donors/{wreck}").body["components"][0]
    made(api.patch(f"/v1/donors/{wreck}/components/{nib['id']}", {"value": "9.00"}))
    assert piece_costs(api, wreck) == ["10.00", "0.00", "0.00"]
    job = made(api.post("/v1/jobs", {"pen": pen}))["number"]
    held = made(api.post(f"/v1/jobs/{job}/reservations", {"lot": nib["lot"]}))["reservations"][0]
    assert api.get(f"/v1/jobs/{job}").body["parts_cost"] == "10.00"
    made(api.post(f"/v1/reservations/{held['id']}/use"))
    assert api.get(f"/v1/jobs/{job}").body["parts_cost"] == "10.00"
    assert shares_of(api.patch("/v1/purchases/1", {"price": "30.00"})) == ["15.00", "15.00"]
    assert piece_costs(api, wreck) == [None, "2.50", "2.50"]
    refused = api.patch("/v1/purchases/1", {"price": "1.00"})
    assert (refused.status, "took 10.00 of its cost along" in refused.text) == (422, True)
    no_faults(database)


def test_a_piece_that_is_missing_leaves_its_share_to_the_others(
    api: Api, database: Database
) -> None:
    """Whatever the checklist comes to, the pieces left carry the whole cost together."""
    wreck = donor(api, NIB, FEED, cost="9.01")
    assert piece_costs(api, wreck) == ["4.50", "4.51"]
    path = f"/v1/donors/{wreck}"
    _, feed = api.get(path).body["components"]
    made(api.patch(f"{path}/components/{feed['id']}", {"state": "missing"}))
    assert piece_costs(api, wreck) == ["9.01", None]
    made(api.post(f"{path}/components", {"components": [CAP]}))
    assert piece_costs(api, wreck) == ["4.50", None, "4.51"]
    made(api.patch(f"{path}/components/{feed['id']}", {"state": "present"}))
    assert piece_costs(api, wreck) == ["3.00", "3.00", "3.01"]
    made(api.patch(path, {"cost": None}))
    assert piece_costs(api, wreck) == [None, None, None]
    no_faults(database)


def test_a_pen_that_becomes_a_donor_takes_its_cost_along(api: Api, database: Database) -> None:
    """Its pieces carry what it cost, also where its purchase is divided anew afterwards."""
    pen = api.pen()
    made(buy(api, {"pen": pen}, price="8.00"))
    components = {"components": [NIB, CAP]}
    wreck = made(api.post(f"/v1/pens/{pen}/to-donor", components))
    assert wreck["cost"] == "8.00"
    assert piece_costs(api, wreck["number"]) == ["4.00", "4.00"]
    assert api.patch(f"/v1/donors/{wreck['number']}", {"cost": "1"}).status == 409
    made(api.patch("/v1/purchases/1", {"price": "6.00"}))
    assert piece_costs(api, wreck["number"]) == ["3.00", "3.00"]
    no_faults(database)


def test_stripped_pieces_stay_in_the_division(api: Api, database: Database) -> None:
    """A piece in a drawer is still of its donor: it carries its share, which follows the cost."""
    api.stock()
    wreck = donor(api, NIB, CAP, cost="10.00")
    nib, cap = (each["lot"] for each in api.get(f"/v1/donors/{wreck}").body["components"])
    made(api.post(f"/v1/donors/{wreck}/strip", {"lots": [nib], "drawer": "A3"}))
    made(api.post(f"/v1/lots/{cap}/discard", {"quantity": 1, "note": "cracked"}))
    assert made(api.patch(f"/v1/donors/{wreck}", {"cost": "12.00"}))["cost"] == "12.00"
    assert api.get(f"/v1/lots/{nib}").body["cost"] == "7.00"
    no_faults(database)


@pytest.mark.differs
def test_dividing_meets_fitting_and_looking(api: Api, database: Database) -> None:
    """Whatever is done at one moment, pieces and what was fitted carry the last cost exactly."""
    pen, more = api.pen(), api.pen()
    wreck = donor(api, *(NIB for _ in range(8)))
    made(buy(api, {"pen": pen}, {"donor": wreck}, price="80.00"))
    made(buy(api, {"pen": more}, price="1.00"))
    job = made(api.post("/v1/jobs", {"pen": pen}))["number"]
    components = api.get(f"/v1/donors/{wreck}").body["components"]
    start = threading.Barrier(3)

    def divide(each: Api) -> None:
        for price in range(81, 93):
            answer = each.patch("/v1/purchases/1", {"price": f"{price}.00"}, If_Match="*")
            assert answer.status == 200, answer.text

    def fit(each: Api) -> None:
        for component in components[:4]:
            held = made(each.post(f"/v1/jobs/{job}/reservations", {"lot": component["lot"]}))
            made(each.post(f"/v1/reservations/{held['reservations'][0]['id']}/use"))

    def look(each: Api) -> None:
        for component in reversed(components[4:]):
            path = f"/v1/donors/{wreck}/components/{component['id']}"
            for state in ("missing", "present"):
                assert each.patch(path, {"state": state}, If_Match="*").status == 200

    def run(act: Callable[[Api], None]) -> None:
        each = Api(api.app, api.token)
        start.wait()
        act(each)

    with ThreadPoolExecutor(3) as pool:
        list(pool.map(run, (divide, fit, look)))
    assert cost_of(api, wreck) == "46.00"
    carried = [float(cost) for cost in piece_costs(api, wreck) if cost is not None]
    fitted = float(api.get(f"/v1/jobs/{job}").body["parts_cost"])
    assert round(sum(carried) + fitted, 2) == 46.00
    no_faults(database)


@pytest.mark.differs
def test_a_pen_is_bought_once_however_two_race(api: Api) -> None:
    """Two purchases name the same pens in another order: one is entered, the other is refused."""
    for _ in range(5):
        first, second = {"pen": api.pen()}, {"pen": api.pen()}
        start = threading.Barrier(2)

        def ask(lines: tuple[Any, ...], start: threading.Barrier = start) -> int:
            each = Api(api.app, api.token)
            start.wait()
            return buy(each, *lines).status

        with ThreadPoolExecutor(2) as pool:
            answers = list(pool.map(ask, ((first, second), (second, first))))
        assert sorted(answers) == [201, 409]
