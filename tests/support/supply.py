"""A supplier, an offer, and an order of the contract's sample part, made over HTTP."""

from __future__ import annotations

from typing import Any

from support.api import ANYWAY, Api

PART = "SAC-15-STR"
FITTING = {"barrel_bore": "8.0 mm", "bar_height": "0.9 mm", "nipple_diameter": "6.4 mm"}


def made(reply: Any) -> dict[str, Any]:
    """Return what was made; it had to be."""
    assert reply.status in {200, 201}, reply.text
    return dict(reply.body)


def supplier(api: Api, name: str = "The sac people", **more: Any) -> int:
    """Note a supplier; return its id."""
    return int(made(api.post("/v1/suppliers", {"name": name, "postage": "4.50"} | more))["id"])


def offer(api: Api, supplier_id: int, part: str = PART, **more: Any) -> int:
    """Note an offer of packs of ten at 3.00; return its id."""
    body = {"part": part, "pack_pieces": 10, "prices": [{"packs": 1, "price": "3.00"}]} | more
    return int(made(api.post(f"/v1/suppliers/{supplier_id}/offers", body))["id"])


def part(api: Api, number: str, **more: Any) -> str:
    """Put a sac into the catalogue; return its number."""
    body = {
        "number": number,
        "kind": "sac",
        "material": "latex",
        "dimensions": {"outside_diameter": "15/64 in"},
    }
    made(api.post("/v1/parts", body | more))
    return number


def lot(api: Api, number: str, quantity: int, **more: Any) -> int:
    """Take pieces of a part in; return the lot's id."""
    api.post("/v1/drawers", {"code": "A3"})
    body = {"part": number, "drawer": "A3", "quantity": quantity} | more
    return int(made(api.post("/v1/lots", body))["id"])


def sent_order(api: Api, offer_id: int, packs: int = 2) -> dict[str, Any]:
    """Order packs of an offer, and send the order."""
    offered = made(api.get(f"/v1/offers/{offer_id}"))
    lines = [{"offer": offer_id, "packs": packs}]
    order = made(api.post("/v1/orders", {"supplier": offered["supplier"], "lines": lines}))
    return made(api.post(f"/v1/orders/{order['number']}/send"))


def used(api: Api, lot_id: int, quantity: int) -> None:
    """Fit pieces of a lot in a job of their own."""
    job = api.job()
    body = {"lot": lot_id, "quantity": quantity, "override": "whatever it measures"}
    held = api.post(f"/v1/jobs/{job}/reservations", body)
    for reservation in made(held)["reservations"]:
        made(api.post(f"/v1/reservations/{reservation['id']}/use"))
    made(api.post(f"/v1/jobs/{job}/close", ANYWAY))


def due(api: Api, query: str = "") -> dict[str, dict[str, Any]]:
    """Return the lines of what is to be ordered, by part."""
    return {line["part"]: line for line in made(api.get(f"/v1/reorder{query}"))["lines"]}
