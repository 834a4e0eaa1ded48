"""The fill through the service: its endpoint, its refusals, its entry in the OpenAPI document."""

from __future__ import annotations

import pytest

from support.api import Api

BODY = {"system": "pneumatic", "air_volume_ml": 4.0, "swept_volume_ml": 1.8, "sac_volume_ml": 1.3}


def test_endpoint_answers_with_settings_and_sources(api: Api) -> None:
    """The answer carries the range, the checks, and the settings it rests on."""
    reply = api.post("/v1/calculators/fill", BODY | {"water_grams": "0.5 "})
    assert reply.status == 200, reply.text
    result = reply.body["result"]
    assert result["fill_ml"]["high"] == 1.3
    assert result["verdict"] == "low"
    assert result["checks"][0]["check"] == "technique"
    used = {setting["name"] for setting in reply.body["settings"]}
    assert {"fill.air_pressure", "fill.water_density"} <= used
    assert reply.body["sources"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"system": "magic"}, "/system"),
        ({"sac_volume_ml": -1}, "/sac_volume_ml"),
        ({"sac_volume_ml": 0}, "/sac_volume_ml"),
        ({"swept_volume_ml": 4}, "/swept_volume_ml"),
        ({"leak_percent": 101}, "/leak_percent"),
        ({"fills_averaged": 0}, "/fills_averaged"),
        ({"sac_length": "-3 mm"}, "/sac_length"),
        ({"sac_length": 0}, "/sac_length"),
    ],
)
def test_wrong_input_is_422_at_its_pointer(api: Api, change, pointer) -> None:
    """Negative, zero, unknown and impossible values are refused where they stand."""
    reply = api.post("/v1/calculators/fill", BODY | change)
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == pointer
