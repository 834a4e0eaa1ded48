"""Rows of everything that is listed, for tests of what a list costs when there is more of it."""

from __future__ import annotations

from support import supply
from support.api import BODY, Api
from support.pictures import png


def fill_in(api: Api, first: int, last: int) -> None:
    """Add rows of each of the workshop's things, and to the first of each what it has."""
    for number in range(first, last):
        api.post("/v1/drawers", {"code": f"D{number}"})
        api.stock(quantity=2)
        components = [{"kind": "cap"}, {"kind": "clip", "part_of": 0}]
        api.post("/v1/donors", {"called": f"donor {number}", "components": components})
        job = api.job()
        bought = [{"pen": f"PEN-{2 * number + 1:04d}"}, {"donor": f"DON-{number + 1:04d}"}]
        api.post("/v1/purchases", {"price": "30.00", "lines": bought})
        api.post(f"/v1/jobs/{job}/timers", {"what": "shellac", "minutes": 30})
        ended = api.job()
        api.post(f"/v1/jobs/{ended}/cancel")
        part = {"number": f"SAC-{number}", "kind": "sac", "dimensions": {"outside_diameter": 6}}
        api.post("/v1/parts", part)
        change = {"policy": "keep_at_least", "parameters": {"pieces": 5}, "why": "often wanted"}
        api.patch(f"/v1/parts/SAC-{number}/threshold", change)
        _add_to_the_first_of_each(api, number)


def bring_in(api: Api, first: int, last: int) -> None:
    """Add suppliers, offers, orders, parcels of the first order, pictures, outcomes, imports."""
    for number in range(first, last):
        seller = supply.supplier(api, f"supplier {number}")
        supply.offer(api, seller, f"SAC-{number}")
        offered = supply.offer(api, 1, f"SAC-{number}", pack_pieces=20)
        supply.sent_order(api, offered)
        bag = {"line": 1, "drawer": "A3", "quantity": 1}
        supply.made(api.post("/v1/orders/ORD-0001/parcels", {"lines": [bag]}))
        for path in ("pens/PEN-0001", "donors/DON-0001"):
            picture = png(grey=number)
            type_of = {"Content_Type": "image/png"}
            supply.made(api.call("POST", f"/v1/{path}/photographs", raw=picture, **type_of))
        used = supply.made(api.get("/v1/reservations?job=JOB-0001&limit=500"))["reservations"]
        told = next(each["id"] for each in reversed(used) if each["used"])
        supply.made(api.post(f"/v1/reservations/{told}/outcomes", {"outcome": "good"}))
        table, csv = f"part,drawer\nSAC-{number},nowhere\n", {"Content_Type": "text/csv"}
        query = f"of=lots&name=cabinet-{number}.csv"
        supply.made(api.call("POST", f"/v1/imports?{query}", raw=table.encode(), **csv))


def _add_to_the_first_of_each(api: Api, number: int) -> None:
    taken = {"lot": 1, "quantity": 1, "override": "tried"}
    made = api.post("/v1/jobs/JOB-0001/reservations", taken)
    assert made.status == 201, made.text
    reservation = made.body["reservations"][0]["id"]
    api.post(f"/v1/reservations/{reservation}/{'use' if number % 2 else 'fetch'}")
    api.post("/v1/pens/PEN-0001/readings", {"readings": BODY})
    api.post("/v1/jobs", {"pen": "PEN-0001"})
    more = {"components": [{"kind": "feed"}, {"kind": "nib"}]}
    assert api.post("/v1/donors/DON-0001/components", more).status == 201
