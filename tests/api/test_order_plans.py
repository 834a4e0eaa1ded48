"""The least order: which supplier gets what, and whether waiting a week saves anything."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from itertools import product
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from conftest import Clock
from sparewell.reorder import solver
from sparewell.reorder.choices import Pack, Question, Shop, by_plain_rule, cost_of, fault_of
from support.api import Api
from support.supply import PART, lot, made, offer, part, supplier, used

MOST_CHOICES = 20_000


def choices(question: Question) -> Iterator[dict[int, int]]:
    """Yield every choice within the bounds that can make sense."""
    ranges = [range(question.most_packs(pack) + 1) for pack in question.packs]
    for counts in product(*ranges):
        yield {pack.id: n for pack, n in zip(question.packs, counts, strict=True) if n}


def brute_force(question: Question) -> int:
    """Return the least cost of all orders that every supplier takes."""
    return min(
        cost_of(question, choice)
        for choice in choices(question)
        if fault_of(question, choice) is None
    )


@st.composite
def questions(draw: st.DrawFn) -> Question:
    """Draw one to three parts, and one to three suppliers who sell some of them."""
    amount = st.integers(0, 600)
    shops = {
        number: Shop(
            number,
            draw(amount),
            draw(st.none() | st.integers(1, 2000)),
            draw(st.just(0) | st.integers(1, 1500)),
        )
        for number in range(1, draw(st.integers(1, 3)) + 1)
    }
    packs: list[Pack] = []
    wanted = {}
    for number in range(1, draw(st.integers(1, 3)) + 1):
        wanted[number] = draw(st.integers(1, 9))
        for shop in draw(st.lists(st.sampled_from(sorted(shops)), min_size=1, unique=True)):
            price = draw(st.integers(60, 500))
            breaks = [(1, price)]
            if draw(st.booleans()):
                breaks.append((draw(st.integers(2, 5)), draw(st.integers(50, price))))
            packs.append(
                Pack(
                    len(packs) + 1,
                    shop,
                    number,
                    draw(st.integers(1, 6)),
                    tuple(breaks),
                    draw(st.integers(1, 2)),
                )
            )
    return Question(wanted, shops, packs)


@given(questions())
@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
def test_the_least_order_is_the_least(question: Question) -> None:
    """On small cases the solver's order costs what the best of all choices costs, and is proven."""
    assume(math.prod(question.most_packs(pack) + 1 for pack in question.packs) <= MOST_CHOICES)
    plain = by_plain_rule(question)
    answer = solver.solve(question, plain)
    assert answer is not None
    assert fault_of(question, answer.choice) is None
    assert (answer.is_proven, answer.gap) == (True, 0.0)
    least = brute_force(question)
    assert cost_of(question, answer.choice) == least
    assert fault_of(question, plain) is not None or cost_of(question, plain) >= least


def test_a_larger_order_is_answered_within_the_limit() -> None:
    """Sixty parts at eight suppliers are answered, with no worse an order than the plain rule's."""
    shops = {n: Shop(n, 300 + 40 * n, 4000 if n % 2 else None, 500 * (n % 3)) for n in range(8)}
    packs = []
    for number, shop in product(range(60), shops):
        if (number + shop) % 3:
            size = (1, 5, 10)[(number * 7 + shop * 5) % 3]
            price = size * (40 + number * 37 % 200) * (85 + shop * 53 % 31) // 100
            breaks = ((1, price), (5, price * 9 // 10))
            packs.append(Pack(len(packs), shop, number, size, breaks))
    question = Question({n: 3 + n % 17 for n in range(60)}, shops, packs)
    plain = by_plain_rule(question)
    answer = solver.solve(question, plain)
    assert answer is not None
    assert fault_of(question, answer.choice) is None
    assert answer.gap is not None
    assert answer.gap < 0.05
    if fault_of(question, plain) is None:
        assert cost_of(question, answer.choice) <= cost_of(question, plain)


@pytest.fixture
def two_shops(api: Api) -> tuple[int, int]:
    """Two parts; one supplier sells both a little dearer, the other one of them cheaply."""
    api.stock(1)
    part(api, "SAC-16", dimensions={"outside_diameter": "16/64 in"})
    lot(api, "SAC-16", 1)
    both, cheap = supplier(api, "both"), supplier(api, "cheap", postage="6.00")
    offer(api, both)
    offer(api, both, "SAC-16", item_number="S16")
    offer(api, cheap, prices=[{"packs": 1, "price": "2.00"}])
    return both, cheap


def wanted(quantity: int = 10) -> dict[str, Any]:
    """Return the body that asks for so many of both parts."""
    parts = [PART, "SAC-16"]
    return {"lines": [{"part": number, "quantity": quantity} for number in parts]}


def test_one_postage_beats_two(api: Api, two_shops: tuple[int, int]) -> None:
    """One order of both parts at the dearer supplier costs less than two with two postages."""
    plan = made(api.post("/v1/orders/plan", wanted()))
    (order,) = plan["orders"]
    assert (order["supplier"], plan["total"], plan["plain"], plan["proven"]) == (
        two_shops[0],
        "10.50",
        False,
        True,
    )
    assert [(line["part"], line["packs"], line["cost"]) for line in order["lines"]] == [
        (PART, 1, "3.00"),
        ("SAC-16", 1, "3.00"),
    ]
    assert (order["goods"], order["postage"], order["minimum_met"]) == ("6.00", "4.50", True)
    assert plan["gap"] == 0.0
    assert "proven" in plan["how"]


def test_a_planned_order_can_be_ordered(api: Api, two_shops: tuple[int, int]) -> None:
    """What is planned, written as a draft, comes to the same total."""
    (order,) = made(api.post("/v1/orders/plan", wanted(45)))["orders"]
    lines = [{"offer": line["offer"], "packs": line["packs"]} for line in order["lines"]]
    draft = made(api.post("/v1/orders", {"supplier": two_shops[0], "lines": lines}))
    assert draft["total"] == order["total"]


def test_without_the_solver_a_plain_rule_answers(
    api: Api, two_shops: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the extra each part goes to its cheapest offer, and the answer says it is plain."""
    monkeypatch.setattr(solver, "is_installed", lambda: False)
    plan = made(api.post("/v1/orders/plan", wanted()))
    assert [order["supplier"] for order in plan["orders"]] == list(two_shops)
    assert (plan["plain"], plan["proven"], plan["gap"], plan["total"]) == (
        True,
        False,
        None,
        "15.50",
    )
    assert "sparewell[optimise]" in plan["how"]


def test_the_plain_rule_tops_up_to_the_minimum(
    api: Api, two_shops: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An order below what its supplier takes gets further packs until it is taken."""
    monkeypatch.setattr(solver, "is_installed", lambda: False)
    made(api.patch(f"/v1/suppliers/{two_shops[0]}", {"minimum_order": "8.00"}))
    plan = made(api.post("/v1/orders/plan", wanted()))
    order = next(each for each in plan["orders"] if each["supplier"] == two_shops[0])
    assert (order["goods"], order["minimum_met"], order["minimum_order"]) == ("9.00", True, "8.00")


def test_what_nobody_sells_is_said(api: Api, two_shops: tuple[int, int]) -> None:
    """A part without an offer is named, and the rest is planned."""
    api.patch("/v1/offers/2", {"retired": True})
    plan = made(api.post("/v1/orders/plan", wanted()))
    assert plan["unoffered"] == [{"part": "SAC-16", "quantity": 10}]
    assert [line["part"] for order in plan["orders"] for line in order["lines"]] == [PART]
    assert two_shops
    refused = api.post("/v1/orders/plan", {"lines": [{"part": "NONE", "quantity": 1}]})
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/lines/0/part")


def test_all_that_is_due_is_planned(api: Api, two_shops: tuple[int, int]) -> None:
    """Without lines the plan is of all that is due; with nothing due it is empty."""
    empty = made(api.post("/v1/orders/plan"))
    assert (empty["orders"], empty["total"]) == ([], "0.00")
    body = {"policy": "keep_at_least", "parameters": {"pieces": 12}, "why": "x"}
    made(api.patch(f"/v1/parts/{PART}/threshold", body))
    plan = made(api.post("/v1/orders/plan"))
    (order,) = plan["orders"]
    assert order["supplier"] == two_shops[1]
    assert [(line["part"], line["wanted"], line["pieces"]) for line in order["lines"]] == [
        (PART, 20, 20)
    ]


def test_waiting_saves_a_second_postage(api: Api, two_shops: tuple[int, int], clock: Clock) -> None:
    """What will be due within the week at its mean use joins the order and saves a postage."""
    made(api.patch("/v1/offers/3", {"retired": True}))
    stock = lot(api, "SAC-16", 39)
    clock.now += timedelta(days=1)
    used(api, stock, 30)
    clock.now += timedelta(days=29)
    body = {"policy": "keep_at_least", "parameters": {"pieces": 6, "up_to": 15}, "why": "x"}
    made(api.patch("/v1/parts/SAC-16/threshold", body))
    # Ten are free and one is used a day: in a week three are left, and six are to be kept.
    asked = {"lines": [{"part": PART, "quantity": 10}]}
    waiting = made(api.post("/v1/orders/plan", asked))["waiting"]
    assert (waiting["days"], waiting["joining"]) == (7, [{"part": "SAC-16", "quantity": 12}])
    # 7.50 now and 10.50 later, against 13.50 together.
    assert waiting["saves"] == "4.50"
    assert "7.50" in waiting["how"]
    tomorrow = made(api.post("/v1/orders/plan?wait_days=1", asked))["waiting"]
    assert (tomorrow["joining"], tomorrow["saves"]) == ([], "0.00")
    assert two_shops


def test_a_reader_may_plan(api: Api, two_shops: tuple[int, int], token_of: Any) -> None:
    """Planning orders nothing, so it opens to who may only read."""
    assert Api(api.app, token_of("read")).post("/v1/orders/plan", wanted()).status == 200
    assert api.get("/v1/orders").body["orders"] == []
    assert two_shops


def test_the_address_of_the_plan_says_what_it_takes(api: Api) -> None:
    """OPTIONS names POST alone, and an order cannot be called `plan`."""
    assert api.call("OPTIONS", "/v1/orders/plan").headers["Allow"] == "OPTIONS, POST"
    assert api.get("/v1/orders/plan").status == 404
