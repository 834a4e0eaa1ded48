"""The flush and the cautions through the service."""

from __future__ import annotations

import pytest

from support.api import Api

BODY = {"ammonia_percent": 5, "volume_ml": 100, "material": "hard rubber"}


def test_endpoint_answers_with_amounts_and_cautions(api: Api) -> None:
    """The usual mixture comes with its settings, its sources and the cautions."""
    reply = api.post("/v1/calculators/flush_mix", BODY)
    assert reply.status == 200, reply.text
    assert reply.body["result"]["ammonia_ml"] == 10
    assert reply.body["result"]["water_ml"] == 90
    assert any("chloramine" in caution for caution in reply.body["cautions"])
    assert "flush_mix.target_percent" in {one["name"] for one in reply.body["settings"]}


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"material": "casein"}, "/material"),
        ({"material": "unknown"}, "/material"),
        ({"ammonia_percent": 0}, "/ammonia_percent"),
        ({"ammonia_percent": -5}, "/ammonia_percent"),
        ({"ammonia_percent": 0.3}, "/ammonia_percent"),
        ({"ammonia_percent": 30}, "/ammonia_percent"),
        ({"volume_ml": 0}, "/volume_ml"),
        ({"volume_ml": 5001}, "/volume_ml"),
        ({"override_reason": " "}, "/override_reason"),
    ],
)
def test_wrong_input_is_422_at_its_pointer(api: Api, change, pointer) -> None:
    """Casein, the unknown, and strengths and volumes that cannot be are refused in place."""
    reply = api.post("/v1/calculators/flush_mix", BODY | change)
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == pointer


def test_the_strength_of_the_bottle_is_required(api: Api) -> None:
    """Without it nothing can be mixed, so it is asked for."""
    reply = api.post("/v1/calculators/flush_mix", {"volume_ml": 100, "material": "steel"})
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == "/ammonia_percent"


def test_a_casein_pen_hears_of_the_leak_test_before_its_steps(api: Api) -> None:
    """The plan of a casein pen warns of water and of the leak test; neither can be dismissed."""
    pen = {"called": "green casein", "filling_system": "lever", "materials": ["casein"]}
    number = api.post("/v1/pens", pen).body["number"]
    job = api.post("/v1/jobs", {"pen": number}).body["number"]
    cautions = api.get(f"/v1/jobs/{job}/plan").body["cautions"]
    leak = [one for one in cautions if "no leak test" in one["caution"]]
    assert leak[0]["steps"] == ["leak_test"]
    assert leak[0]["dismissible"] is False
    water = next(one for one in cautions if "no water at all" in one["caution"])
    assert water["steps"] == ["clean", "fill_test", "leak_test"]
