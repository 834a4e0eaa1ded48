"""Shelf life through the service, and its agreement with the lots in stock."""

from __future__ import annotations

import pytest

from support.api import Api


def test_endpoint_agrees_with_the_lot(api: Api) -> None:
    """Calculator and lot give one date, by the workshop's scheme, from the same table."""
    lot = api.stock(made_on="2Q2024", material="latex")
    reply = api.post("/v1/calculators/shelf_life", {"material": "latex", "made_on": "2Q2024"})
    assert reply.status == 200, reply.text
    assert reply.body["result"]["fit_by"] == lot["fit_by"] == "2029-04-01"
    assert reply.body["result"]["scheme"] == "workshop"
    assert [setting["name"] for setting in reply.body["settings"]] == ["stock.ageing_scheme"]


def test_changing_the_schemes_setting_changes_both(api: Api) -> None:
    """By ISO 2230 latex keeps as long, and the calculator asked without a scheme follows."""
    change = {"value": "iso2230", "why": "the customer wants it"}
    assert api.patch("/v1/settings/stock.ageing_scheme", change).status == 200
    lot = api.stock(made_on="2024-05-06", material="silicone")
    asked = {"material": "silicone", "made_on": "2024-05-06"}
    result = api.post("/v1/calculators/shelf_life", asked).body["result"]
    assert result["fit_by"] == lot["fit_by"] == "2034-05-06"
    assert (result["scheme"], result["extended_to"]) == ("iso2230", "2039-05-06")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"material": "latex", "made_on": "2026-11-26"}, "/made_on"),
        ({"material": "latex", "made_on": "soon"}, "/made_on"),
        ({"material": "latex", "made_on": "2020", "scheme": "mine"}, "/scheme"),
        ({"made_on": "2020"}, "/material"),
    ],
)
def test_wrong_input_is_422_at_its_pointer(api: Api, body, pointer) -> None:
    """A date to come, no date, an unknown scheme and no material are refused where they stand."""
    reply = api.post("/v1/calculators/shelf_life", body)
    assert reply.status == 422
    assert reply.body["errors"][0]["pointer"] == pointer
