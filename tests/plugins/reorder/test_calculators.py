"""Thresholds, forecasts and batch sizes by hand, over the API."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api


def answer(api: Api, calculator: str, **body: Any) -> dict[str, Any]:
    """What a calculator says."""
    reply = api.post(f"/v1/calculators/{calculator}", body)
    assert reply.status == 200, reply.text
    return dict(reply.body["result"])


def test_the_threshold_of_the_contract(api: Api) -> None:
    """A mean of 5.5 at 95 % is ordered at 10, which lasts with 97.5 %."""
    found = answer(api, "reorder_point", policy="poisson", mean_demand=5.5, service_level=0.95)
    assert found["reorder_point"] == 10
    assert found["achieved_level"] == pytest.approx(0.9747, abs=5e-5)
    assert "P(demand <= 9) = 0.9462, below 0.95." in found["working"]


def test_a_steady_stream_is_rounded_up_to_whole_pieces(api: Api) -> None:
    """60 a day give or take 7, six days, 95 %: 388.203, so 389."""
    found = answer(
        api,
        "reorder_point",
        policy="normal",
        mean_demand=60,
        deviation=7,
        lead_time=6,
        service_level=0.95,
    )
    assert (found["reorder_point"], round(found["exact"], 3)) == (389, 388.203)


def test_the_workshops_level_is_used_and_named(api: Api) -> None:
    """Without a level the setting counts, and the answer lists it."""
    api.patch("/v1/settings/reorder.service_level", {"value": 0.99, "why": "impatient owners"})
    reply = api.post("/v1/calculators/reorder_point", {"policy": "poisson", "mean_demand": 1}).body
    assert reply["result"]["reorder_point"] == 4
    assert [used["name"] for used in reply["settings"]] == ["reorder.service_level"]


@pytest.mark.parametrize(
    ("calculator", "body", "pointer"),
    [
        ("reorder_point", {"policy": "poisson"}, "/mean_demand"),
        ("reorder_point", {"policy": "normal", "mean_demand": 3}, "/deviation"),
        (
            "reorder_point",
            {"policy": "poisson", "mean_demand": 3, "service_level": 1},
            "/service_level",
        ),
        ("reorder_point", {"policy": "poisson", "mean_demand": -1}, "/mean_demand"),
        ("demand_forecast", {"history": "0 two 1"}, "/history"),
        ("demand_forecast", {"history": ";"}, "/history"),
        ("batch_size", {"demand": 10, "order_cost": 3, "holding_cost": 0}, "/holding_cost"),
        (
            "batch_size",
            {
                "demand": 90000,
                "order_cost": 3,
                "holding_cost": 1,
                "shortage_cost": 9,
                "lead_time": 2,
            },
            "/lead_time",
        ),
    ],
)
def test_what_cannot_be_is_refused_where_it_stands(
    api: Api, calculator: str, body: dict[str, Any], pointer: str
) -> None:
    """The refusal points at the figure that is missing or wrong."""
    reply = api.post(f"/v1/calculators/{calculator}", body)
    assert reply.status == 422, reply.text
    assert pointer in [error["pointer"] for error in reply.body["errors"]]


def test_a_forecast_says_its_start(api: Api) -> None:
    """Croston's on a short history, with the rule by which it began."""
    found = answer(api, "demand_forecast", history="0 2 0 1", method="croston", smoothing=0.1)
    assert found["per_period"] == pytest.approx(1.9 / 2)
    assert any("first interval" in line for line in found["working"])
    reply = api.post("/v1/calculators/demand_forecast", {"history": "0 0 1"})
    assert "no forecast rests on so little" in reply.body["warnings"][0]


def test_batches_are_for_whoever_buys_in_bulk(api: Api) -> None:
    """The square root of 2 K D / h, and with a lead time the point and batch that cost least."""
    found = answer(api, "batch_size", demand=1300, order_cost=8, holding_cost=0.225)
    assert found["batch"] == pytest.approx(304.04678, abs=1e-5)
    assert found["point"] is None
    paired = answer(
        api,
        "batch_size",
        demand=1.5,
        order_cost=100,
        holding_cost=20,
        shortage_cost=150,
        lead_time=2,
    )
    assert (paired["point"], paired["batch_with_point"]) == (3, 5)
