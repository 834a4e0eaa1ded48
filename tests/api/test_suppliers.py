"""Who sells which part or size, in which pack, at which price breaks."""

from __future__ import annotations

import pytest

from support.api import Api
from support.supply import PART, offer, supplier


def test_a_supplier_is_kept_with_its_terms(api: Api) -> None:
    """A supplier comes back as it was noted, and its Location leads to it."""
    reply = api.post(
        "/v1/suppliers",
        {
            "name": "The sac people",
            "postage": "4.50",
            "free_postage_from": "40",
            "minimum_order": "10.00",
            "lead_days": 12,
            "lead_spread_days": 3,
        },
    )
    assert reply.status == 201
    kept = api.get(reply.headers["Location"]).body
    assert kept == reply.body
    assert (kept["postage"], kept["free_postage_from"], kept["minimum_order"]) == (
        "4.50",
        "40.00",
        "10.00",
    )
    assert (kept["lead_days"], kept["lead_spread_days"], kept["retired_at"]) == (12, 3, None)


def test_two_suppliers_cannot_have_one_name(api: Api) -> None:
    """A name that is taken is a conflict at the name, on making and on changing."""
    supplier(api)
    again = api.post("/v1/suppliers", {"name": "The sac people"})
    assert (again.status, again.body["errors"][0]["pointer"]) == (409, "/name")
    other = supplier(api, "Cork and rubber")
    renamed = api.patch(f"/v1/suppliers/{other}", {"name": "The sac people"})
    assert (renamed.status, renamed.body["errors"][0]["pointer"]) == (409, "/name")


def test_a_supplier_is_changed_and_retired(api: Api) -> None:
    """A change needs the present tag; a null takes the minimum away; retiring can be taken back."""
    path = f"/v1/suppliers/{supplier(api, minimum_order='10')}"
    changed = api.patch(path, {"minimum_order": None, "lead_days": 5, "retired": True})
    assert (changed.body["minimum_order"], changed.body["lead_days"]) == (None, 5)
    assert changed.body["retired_at"] is not None
    assert api.patch(path, {"retired": False}).body["retired_at"] is None
    assert api.call("PATCH", path, {"note": "x"}).status == 428
    assert api.patch(path, {"postage": None}).status == 422


def test_an_offer_names_a_part_with_its_breaks(api: Api) -> None:
    """An offer keeps its breaks in order, and is found by its part and by its kind."""
    api.stock()
    made = api.post(
        f"/v1/suppliers/{supplier(api)}/offers",
        {
            "part": PART,
            "item_number": "S15",
            "pack_pieces": 10,
            "minimum_pieces": 20,
            "prices": [{"packs": 5, "price": "2.50"}, {"packs": 1, "price": "3.00"}],
        },
    )
    assert made.status == 201
    assert [each["price"] for each in made.body["prices"]] == ["3.00", "2.50"]
    for query in (f"part={PART}", "kind=sac"):
        assert [each["id"] for each in api.get(f"/v1/offers?{query}").body["offers"]] == [
            made.body["id"]
        ]
    assert api.get("/v1/offers?kind=gasket").body["offers"] == []


def test_an_offer_may_be_of_a_size_in_words(api: Api) -> None:
    """What is not in the catalogue yet is noted as kind and size, and becomes a part later."""
    sold_by = supplier(api)
    size = {"kind": "sac", "size": "16 straight", "prices": [{"packs": 1, "price": "0.80"}]}
    made = api.post(f"/v1/suppliers/{sold_by}/offers", size)
    assert (made.status, made.body["part"], made.body["size"]) == (201, None, "16 straight")
    ordered = {"supplier": sold_by, "lines": [{"offer": made.body["id"], "packs": 1}]}
    refused = api.post("/v1/orders", ordered)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/lines/0/offer")
    api.stock()
    changed = api.patch(f"/v1/offers/{made.body['id']}", {"part": PART})
    assert (changed.body["part"], changed.body["kind"], changed.body["size"]) == (PART, None, None)
    assert api.post("/v1/orders", ordered).status == 201


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"part": "NONE"}, "/part"),
        ({"kind": "sac", "size": "15"}, ""),
        ({"part": None}, ""),
        ({"part": None, "kind": "saxophone", "size": "15"}, "/kind"),
        ({"pack_pieces": 0}, "/pack_pieces"),
        ({"prices": []}, "/prices"),
        ({"prices": [{"packs": 2, "price": "3"}]}, "/prices"),
        ({"prices": [{"packs": 1, "price": "3"}, {"packs": 1, "price": "2"}]}, "/prices"),
        ({"prices": [{"packs": 1, "price": None}]}, "/prices/0/price"),
    ],
)
def test_an_offer_that_cannot_be_is_refused(
    api: Api, change: dict[str, object], pointer: str
) -> None:
    """Each fault of an offer is refused where it stands."""
    api.stock()
    body = {"part": PART, "prices": [{"packs": 1, "price": "3.00"}]} | change
    reply = api.post(f"/v1/suppliers/{supplier(api)}/offers", body)
    assert reply.status == 422, reply.text
    assert reply.body["errors"][0]["pointer"] == pointer


def test_an_offer_is_changed_and_retired(api: Api) -> None:
    """New prices hold from now on, and what is retired is not ordered any more."""
    api.stock()
    sold_by = supplier(api)
    offered = offer(api, sold_by)
    order = {"supplier": sold_by, "lines": [{"offer": offered, "packs": 1}]}
    before = api.post("/v1/orders", order).body
    api.patch(f"/v1/offers/{offered}", {"prices": [{"packs": 1, "price": "4.00"}]})
    after = api.post("/v1/orders", order).body
    assert (before["goods"], after["goods"]) == ("3.00", "4.00")
    assert api.get(f"/v1/orders/{before['number']}").body["goods"] == "3.00"
    api.patch(f"/v1/offers/{offered}", {"retired": True})
    refused = api.post("/v1/orders", order)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, "/lines/0/offer")


def test_suppliers_come_by_the_page(api: Api) -> None:
    """The list is cut at its limit and goes on where it was cut."""
    for name in ("one", "two", "three"):
        supplier(api, name)
    first = api.get("/v1/suppliers?limit=2")
    assert [each["name"] for each in first.body["suppliers"]] == ["one", "two"]
    rest = api.get(first.body["next"]).body
    assert ([each["name"] for each in rest["suppliers"]], rest["next"]) == (["three"], None)
