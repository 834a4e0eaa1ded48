"""A length without its unit is doubted at its own input, and nothing else is blamed for it."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import BODY, Api


@pytest.mark.parametrize(
    ("readings", "meant"),
    [
        ({"barrel_bore": "0.315"}, {"/barrel_bore": "0.315 in?"}),
        ({"barrel_bore": 0.315}, {"/barrel_bore": "0.315 in?"}),
        (
            {"barrel_bore": "0.335", "nipple_diameter": "0.252"},
            {"/barrel_bore": "0.335 in?", "/nipple_diameter": "0.252 in?"},
        ),
        ({"nipple_diameter": "64"}, {"/nipple_diameter": "6.4 mm?"}),
    ],
)
def test_a_bare_number_is_asked_about_at_its_own_input(
    api: Api, readings: dict[str, Any], meant: dict[str, str]
) -> None:
    """Where what was likely meant would do, the refusal stands at that input and asks for it."""
    reply = api.post("/v1/calculators/sac", BODY | readings)
    assert reply.status == 422
    found = {each["pointer"]: each["detail"] for each in reply.body["errors"]}
    assert found.keys() == meant.keys()
    for pointer, words in meant.items():
        assert f"did you mean {words}" in found[pointer]


def test_readings_that_contradict_each_other_are_still_named(api: Api) -> None:
    """With nothing mistyped the nipple that does not go into the bore is named."""
    reply = api.post("/v1/calculators/sac", BODY | {"nipple_diameter": "8.2 mm"})
    assert [each["pointer"] for each in reply.body["errors"]] == ["/nipple_diameter"]
    assert "does not go into a bore" in reply.body["errors"][0]["detail"]
