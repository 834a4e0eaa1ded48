"""Readings of a pen that cannot well be true are said: by the API, an import and the page."""

from __future__ import annotations

from typing import Any

import pytest

from support.api import Api

CASES: list[tuple[dict[str, Any], str]] = [
    ({"barrel_bore": "6.4 mm", "nipple_diameter": "8.0 mm"}, "are the two swapped?"),
    ({"guard_bore": "6.4 mm", "nipple_diameter": "6.4 mm"}, "are the two swapped?"),
    ({"barrel_bore": {"value": "8.2 mm", "spread": "9 mm"}}, "no less than the reading"),
    (
        {"barrel_bore": {"value": "8.2 mm", "spread": "2.1 mm"}},
        "more than a quarter of the",
    ),
]


@pytest.mark.parametrize(("readings", "words"), CASES)
def test_odd_readings_are_kept_with_a_warning(
    api: Api, readings: dict[str, Any], words: str
) -> None:
    """At intake and when they are added later, the answer says what is odd about them."""
    body = {"called": "olive", "filling_system": "lever"}
    new = api.post("/v1/pens", body | {"readings": readings})
    assert new.status == 201, new.text
    assert any(words in each for each in new.body["warnings"]), new.body["warnings"]
    bare = api.post("/v1/pens", body).body
    assert bare["warnings"] == []
    later = api.post(f"/v1/pens/{bare['number']}/readings", {"readings": readings}).body
    assert later["warnings"] == new.body["warnings"]


def test_ordinary_readings_have_no_warning(api: Api) -> None:
    """A nipple narrower than its barrel, read to a tenth, is not doubted."""
    readings = {"barrel_bore": {"value": "8.2 mm", "spread": "0.1 mm"}, "nipple_diameter": "6.4 mm"}
    body = {"called": "olive", "filling_system": "lever", "readings": readings}
    assert api.post("/v1/pens", body).body["warnings"] == []


def test_an_import_of_pens_says_what_the_api_would(api: Api) -> None:
    """The report of the check warns by row, and the file can be applied all the same."""
    raw = b"pen,filling system,barrel bore,nipple diameter\nolive,lever,6.4 mm,8.0 mm\n"
    sent = api.call("POST", "/v1/imports?of=pens&name=pens.csv", raw=raw, Content_Type="text/csv")
    assert sent.body["state"] == "checked", sent.text
    told = [each for each in sent.body["notices"] if each.startswith("row 2: ")]
    assert any("are the two swapped?" in each for each in told), sent.body["notices"]
