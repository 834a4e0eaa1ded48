"""The list of what is to be fetched for a job: one walk along the drawers."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from support.api import Api
from support.plunger import HEAD, PACKING, gaskets, open_job


def test_the_list_to_fetch_goes_along_the_drawers(api: Api) -> None:
    """It is grouped by place, A2 before A10, holds what is not in the tray, and gets shorter."""
    job = open_job(api)
    gaskets(api, "HEAD", HEAD, 2, "A10")
    gaskets(api, "PACK", PACKING, 2, "A2")
    gaskets(api, "MORE", PACKING, 2, "B1")
    api.patch(f"/v1/jobs/{job}/needs/2", {"decided": True, "quantity": 3})
    assert api.get(f"/v1/jobs/{job}/fetch-list").body == {"job": job, "places": []}
    api.post(f"/v1/jobs/{job}/reservations")
    places = api.get(f"/v1/jobs/{job}/fetch-list").body["places"]
    assert [place["place"] for place in places] == ["A2", "A10", "B1"]
    (first,) = places[0]["pieces"]
    assert (first["part"], first["kind"], first["need"], first["quantity"]) == (
        "PACK",
        "gasket",
        2,
        2,
    )
    api.post(f"/v1/reservations/{first['reservation']}/fetch", {"quantity": 1})
    (still,) = api.get(f"/v1/jobs/{job}/fetch-list").body["places"][0]["pieces"]
    assert still["quantity"] == 1
    api.post(f"/v1/reservations/{first['reservation']}/fetch")
    places = api.get(f"/v1/jobs/{job}/fetch-list").body["places"]
    assert [place["place"] for place in places] == ["A10", "B1"]
    assert api.get("/v1/jobs/JOB-9999/fetch-list").status == 404


def test_a_hold_whose_time_is_over_is_not_fetched(api: Api, clock: Any) -> None:
    """What has lapsed has gone back to everybody, and is not on the list."""
    job = open_job(api)
    gaskets(api, "HEAD", HEAD, 2, "A1")
    api.patch("/v1/settings/stock.hold_lapses_after_hours", {"value": 2, "why": "busy"})
    api.post(f"/v1/jobs/{job}/reservations")
    assert len(api.get(f"/v1/jobs/{job}/fetch-list").body["places"]) == 1
    clock.now += timedelta(hours=3)
    assert api.get(f"/v1/jobs/{job}/fetch-list").body["places"] == []
