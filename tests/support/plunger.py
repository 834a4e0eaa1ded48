"""A plunger filler whose two washers are of one kind, and the gaskets that suit it."""

from __future__ import annotations

from support.api import Api

VACUUM = {
    "called": "amber plunger",
    "filling_system": "plunger_vacuum",
    "readings": {
        "backing_washer": "8.33 mm",
        "barrel_bore": "8.4 mm",
        "rod": "1.6 mm",
        "bore": "5.4 mm",
    },
}
HEAD = {"outside_diameter": "8.43 mm", "inside_diameter": "1.49 mm", "thickness": "0.64 mm"}
PACKING = {"outside_diameter": "5.5 mm", "inside_diameter": "1.55 mm", "thickness": "0.79 mm"}


def gaskets(api: Api, number: str, measured: dict[str, str], quantity: int, place: str) -> int:
    """Put gaskets into a drawer; return the lot."""
    api.post("/v1/drawers", {"code": place})
    api.post("/v1/parts", {"number": number, "kind": "gasket", "dimensions": measured})
    lot = {"part": number, "drawer": place, "quantity": quantity, "measured": measured}
    return int(api.post("/v1/lots", lot).body["id"])


def open_job(api: Api) -> str:
    """Open its job: head washer, packings to be decided, an optional rod."""
    number = api.post("/v1/pens", VACUUM).body["number"]
    return str(api.post("/v1/jobs", {"pen": number}).body["number"])
