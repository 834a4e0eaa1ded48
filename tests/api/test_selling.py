"""Selling a restored pen: what is said of a closed job, what it was worth, and what came back."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from conftest import Clock
from support.api import ANYWAY, Api
from support.supply import made

SALE = {
    "sold_on": "2026-11-25",
    "price": "120.00",
    "sold_to": "the lady with the dog",
    "warranty_until": "2027-11-24",
}


def closed(api: Api, outcome: str | None = None, lot: int | None = None) -> tuple[str, int]:
    """Fit a sac, close the job, and say how it turned out; return the job and the reservation."""
    job = api.job()
    body = {"lot": lot or api.stock()["id"], "quantity": 1}
    held = made(api.post(f"/v1/jobs/{job}/reservations", body))["reservations"][0]["id"]
    made(api.post(f"/v1/reservations/{held}/use"))
    outcomes = [{"reservation": held, "outcome": outcome}] if outcome else []
    made(api.post(f"/v1/jobs/{job}/close", ANYWAY | {"outcomes": outcomes}))
    return job, held


def test_a_closed_job_carries_its_sale(api: Api) -> None:
    """All of it comes back, in the list of what is exported too, and may be taken away again."""
    job, _ = closed(api)
    assert {name: api.get(f"/v1/jobs/{job}").body[name] for name in SALE} == {
        "sold_on": None,
        "price": None,
        "sold_to": "",
        "warranty_until": None,
    }
    sold = made(api.patch(f"/v1/jobs/{job}", SALE))
    assert {name: sold[name] for name in SALE} == SALE
    assert "the lady with the dog" in api.get("/v1/export/jobs.csv").text
    history = api.get("/v1/pens/PEN-0001/history").body["history"]
    assert [each["sentence"] for each in history if each["what"] == "sold"] == [
        "sold on 2026-11-25 for 120.00 to the lady with the dog, with a warranty until 2027-11-24"
    ]
    nothing = {"sold_on": None, "price": None, "sold_to": "", "warranty_until": None}
    taken_back = made(api.patch(f"/v1/jobs/{job}", nothing))
    assert {name: taken_back[name] for name in SALE} == nothing


@pytest.mark.parametrize("name", list(SALE))
def test_an_open_or_a_cancelled_job_was_not_sold(api: Api, name: str) -> None:
    """Each of it is 409 where it stands, and nothing else of the change is done."""
    job = api.job()
    for _ in range(2):
        refused = api.patch(f"/v1/jobs/{job}", {name: SALE[name], "note": "sold"})
        assert (refused.status, refused.body["errors"][0]["pointer"]) == (409, f"/{name}")
        assert api.get(f"/v1/jobs/{job}").body["note"] == ""
        api.post(f"/v1/jobs/{job}/cancel")


@pytest.mark.parametrize(
    ("said", "pointer"),
    [
        ({"warranty_until": "2026-11-24"}, "/warranty_until"),
        ({"sold_on": None}, "/warranty_until"),
        ({"sold_on": "25.11.2026"}, "/sold_on"),
        ({"warranty_until": "2027-02-30"}, "/warranty_until"),
        ({"price": "-1"}, "/price"),
        ({"price": "1.234"}, "/price"),
        ({"sold_to": "x" * 201}, "/sold_to"),
    ],
)
def test_what_cannot_be_a_sale_is_refused(api: Api, said: dict[str, Any], pointer: str) -> None:
    """A warranty begins with the sale and ends no earlier; each fault is 422 where it is."""
    job, _ = closed(api)
    refused = api.patch(f"/v1/jobs/{job}", SALE | said)
    assert (refused.status, refused.body["errors"][0]["pointer"]) == (422, pointer)
    assert api.get(f"/v1/jobs/{job}").body["sold_on"] is None


def test_a_warranty_may_be_of_the_day_alone(api: Api) -> None:
    """It may end on the day of the sale."""
    job, _ = closed(api)
    one_day = {"sold_on": "2026-11-25", "warranty_until": "2026-11-25"}
    assert made(api.patch(f"/v1/jobs/{job}", one_day))["warranty_until"] == "2026-11-25"


def test_what_it_was_sold_for_goes_before_what_it_was_thought_to_be_worth(api: Api) -> None:
    """The price, else the value as restored, else what the pen might fetch; else it is missing."""
    job, _ = closed(api)

    def worth() -> dict[str, Any]:
        found: dict[str, Any] = api.get(f"/v1/jobs/{job}/worth").body
        return found

    assert worth()["difference"] is None
    assert any("value as restored" in each for each in worth()["missing"])
    api.patch("/v1/pens/PEN-0001", {"might_fetch": "80.00", "cost": "30.00"})
    assert (worth()["fetches"], worth()["difference"]) == ("80.00", "50.00")
    assert not any("value as restored" in each for each in worth()["missing"])
    api.patch(f"/v1/jobs/{job}", {"value_as_restored": "90.00"})
    assert (worth()["fetches"], worth()["difference"]) == ("90.00", "60.00")
    api.patch(f"/v1/jobs/{job}", SALE)
    found = worth()
    assert (found["price"], found["fetches"], found["difference"]) == ("120.00", "120.00", "90.00")
    assert found["value_as_restored"] == "90.00"
    assert job in found["fetches_by"]


def test_what_came_back_are_the_failures_within_the_warranty(api: Api, clock: Clock) -> None:
    """Good ones, those before the sale, after the warranty, and of unsold pens are not among it."""
    lot = api.stock()["id"]
    back, held = closed(api, "good", lot)
    late, held_late = closed(api, lot=lot)
    _, held_unsold = closed(api, lot=lot)
    before, _ = closed(api, "leaked", lot)
    for job in (back, late):
        made(api.patch(f"/v1/jobs/{job}", SALE))
    made(api.patch(f"/v1/jobs/{before}", SALE | {"sold_on": "2026-12-24"}))
    clock.now += timedelta(days=30)
    for reservation in (held, held_unsold):
        told = {"outcome": "leaked", "note": "wet in the cap"}
        made(api.post(f"/v1/reservations/{reservation}/outcomes", told))
    clock.now += timedelta(days=400)
    made(api.post(f"/v1/reservations/{held_late}/outcomes", {"outcome": "leaked"}))
    (found,) = api.get("/v1/outcomes/came-back").body["outcomes"]
    wanted = SALE | {"job": back, "outcome": "leaked", "note": "wet in the cap"}
    assert {name: found[name] for name in wanted} == wanted
    made(api.post(f"/v1/reservations/{held}/outcomes", {"outcome": "good"}))
    (still,) = api.get("/v1/outcomes/came-back").body["outcomes"]
    assert (still["id"], still["counts"]) == (found["id"], False)
