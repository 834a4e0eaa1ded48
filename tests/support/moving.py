"""Sacs and pens of which each takes two sizes, so that promises have somewhere to move to.

P15 takes a 15 only. P16 takes a 16 and, nearly as gladly, a 15; P17 a 17 and a 16; P18 an 18 and a
17. So with a bag of each size promised to the pen above it, each promise could move up by one.
"""

from __future__ import annotations

from typing import Any

from support.api import Api, Reply

P15 = {"barrel_bore": "8.0 mm", "nipple_diameter": "6.4 mm"}
P16 = {"barrel_bore": "8.4 mm", "nipple_diameter": "6.4 mm"}
P17 = {"barrel_bore": "8.9 mm", "nipple_diameter": "7.0 mm"}
P18 = {"barrel_bore": "9.3 mm", "nipple_diameter": "7.6 mm"}
SIZES = {
    15: {"outside_diameter": "5.9 mm", "inside_diameter": "5.05 mm"},
    16: {"outside_diameter": "6.35 mm", "inside_diameter": "5.5 mm"},
    17: {"outside_diameter": "6.75 mm", "inside_diameter": "5.9 mm"},
    18: {"outside_diameter": "7.15 mm", "inside_diameter": "6.3 mm"},
}


def sac(api: Api, size: int, quantity: int = 1, **more: Any) -> int:
    """Put sacs of one size into a drawer; return the bag."""
    return int(api.stock(quantity, **{"measured": SIZES[size], **more})["id"])


def ask(api: Api, job: str, person: str | None = None, **said: Any) -> Reply:
    """Ask for pieces for a job, as a person if one is named."""
    headers = {} if person is None else {"Sparewell_Person": person}
    return api.post(f"/v1/jobs/{job}/reservations", said, **headers)


def held_by(api: Api, job: str, person: str | None = None, **said: Any) -> dict[str, Any]:
    """Reserve for a job, and return its one reservation."""
    reply = ask(api, job, person, **said)
    assert reply.status == 201, reply.text
    (made,) = reply.body["reservations"]
    return dict(made)


def promise_of(api: Api, reservation: int) -> dict[str, Any]:
    """Return a reservation as it is now."""
    return dict(api.get(f"/v1/reservations/{reservation}").body)
