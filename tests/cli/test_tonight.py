"""`sparewell tonight`: which pens can be finished, promised in one, with an exit status."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from cli.conftest import Api, Workshop, shop_with_ten_sacs

PEN = {
    "called": "olive lever pen",
    "filling_system": "lever",
    "readings": {
        "barrel_bore": "8.0 mm",
        "bar_height": "0.9 mm",
        "nipple_diameter": "6.4 mm",
        "barrel_depth": "62 mm",
    },
}


@pytest.fixture
def shop(tmp_path: Path, tables: bytes) -> Iterator[tuple[Workshop, Api]]:
    """Serve a workshop with one bag of ten sacs."""
    with shop_with_ten_sacs(tmp_path, tables) as shop:
        yield shop


def _job(api: Api) -> str:
    pen = api.post("/v1/pens", PEN)["number"]
    return str(api.post("/v1/jobs", {"pen": pen})["number"])


def test_the_evening_is_told_and_reserved(shop: tuple[Workshop, Api]) -> None:
    """Without a job it ends with 1; with one it says where the piece lies, and promises it."""
    workshop, api = shop
    empty = workshop.run("tonight")
    assert (empty.status, empty.out) == (1, "Can be finished: none\n")
    job = _job(api)
    told = workshop.run("tonight", "--reserve")
    assert told.status == 0, told.err
    assert f"  {job}  olive lever pen\n    1 SAC-15-STR from A3" in told.out
    assert told.out.rstrip().endswith(f"Reserved 1 for {job}.")
    again = workshop.run("tonight", "--reserve", "--json")
    document = json.loads(again.out)
    assert document["reserved"] is None
    assert document["tonight"]["finishable"][0]["holds"][0]["quantity"] == 1


def test_what_makes_no_sense_is_wrong_usage(shop: tuple[Workshop, Api]) -> None:
    """A weight that there is not is told with those that there are."""
    workshop, _ = shop
    refused = workshop.run("tonight", "--weight", "beauty")
    assert refused.status == 2
    assert "promised" in refused.err


def test_a_promise_that_moves_is_told(shop: tuple[Workshop, Api]) -> None:
    """The plan counts on it; reserving, and both jobs, say which pieces took whose place."""
    workshop, api = shop
    api.post("/v1/lots/1/discard", {"quantity": 9})
    wide = dict(PEN, readings=PEN["readings"] | {"barrel_bore": "8.4 mm"})  # type: ignore[operator]
    first = api.post("/v1/jobs", {"pen": api.post("/v1/pens", wide)["number"]})["number"]
    assert workshop.run("job", "reserve", first).status == 0
    sixteen = {
        "number": "SAC-16",
        "kind": "sac",
        "material": "latex",
        "dimensions": {"outside_diameter": "16/64 in"},
    }
    api.post("/v1/parts", sixteen)
    lot = {"part": "SAC-16", "drawer": "A3", "quantity": 1}
    api.post("/v1/lots", lot | {"measured": {"outside_diameter": "6.3 mm"}})
    second = _job(api)
    evening = workshop.run("tonight")
    assert f"for which {first} takes lot 2, not lot 1" in evening.out
    plan = workshop.run("job", "plan", second)
    assert (plan.status, f"complete with what {first} has" in plan.out) == (0, True)
    assert workshop.run("job", "reserve", second, "--move", "none").status == 1
    made = workshop.run("job", "reserve", second)
    moved = f"{first} has lot 2 instead of lot 1 now: reservation 3 in place of 1"
    assert moved in made.out
    assert f"Moved: {moved}" in workshop.run("job", "show", first).out
