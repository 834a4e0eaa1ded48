"""What is improbable of a lot is said: by the API, and by an import before anything is written."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api

CASES = [
    ({"label": "SAC-15", "measured": {"outside_diameter": "7.2 mm"}}, "its packet (SAC-15) says"),
    ({"made_on": "2018"}, "over age already when it came"),
    (
        {"measured": {"outside_diameter": {"value": "6 mm", "spread": "9 mm"}}},
        "no less than the reading",
    ),
    (
        {"measured": {"outside_diameter": {"value": "6 mm", "spread": "2 mm"}}},
        "more than a quarter of the reading",
    ),
    ({"measured": {"length": "7.9 mm"}}, "length"),
]


@pytest.mark.parametrize(("said", "words"), CASES)
def test_a_lot_that_is_improbable_is_taken_in_with_a_warning(
    api: Api, said: dict[str, Any], words: str
) -> None:
    """It is kept as it was said, and the answer says what is odd about it."""
    lot = api.stock(3, **{"measured": {}, **said})
    assert any(words in each for each in lot["warnings"]), lot["warnings"]


def test_an_ordinary_lot_has_no_warning(api: Api) -> None:
    """A packet that says 15 and measures 15, made lately, is not doubted."""
    said = {"label": "15", "made_on": "2026-Q1", "measured": {"outside_diameter": "5.95 mm"}}
    assert api.stock(3, **said)["warnings"] == []


def test_an_import_says_what_the_api_would(api: Api) -> None:
    """The report of the check warns by row, and the file can be applied all the same."""
    api.stock(1)
    raw = b"part,drawer,quantity,label,od,made on\nSAC-15-STR,A3,2,SAC-15,7.2 mm,2018\n"
    sent = api.call("POST", "/v1/imports?of=lots&name=lots.csv", raw=raw, Content_Type="text/csv")
    assert sent.body["state"] == "checked", sent.text
    told = [each for each in sent.body["notices"] if each.startswith("row 2: ")]
    assert any("its packet (SAC-15) says" in each for each in told)
    assert any("over age already when it came" in each for each in told)
