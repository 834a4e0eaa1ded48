"""`sparewell reorder`: what must be ordered, with an exit status for scripts."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cli.conftest import Api, Workshop, fill_drawer, shop_with_ten_sacs
from sparewell.cli.reorder import _lines

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


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory, tables: bytes) -> Iterator[tuple[Workshop, Api]]:
    """Serve a workshop with one bag of ten sacs."""
    with shop_with_ten_sacs(tmp_path_factory.mktemp("reorder"), tables) as shop:
        yield shop


def test_nothing_due_ends_with_0_and_something_with_1(shop: tuple[Workshop, Api]) -> None:
    """With ten sacs and no job nothing is due; eleven pens that want one each make it 1."""
    workshop, api = shop
    calm = workshop.run("reorder")
    assert (calm.status, calm.out) == (0, "nothing to order\n")
    quiet = workshop.run("reorder", "--json")
    nothing = {"lines": [], "unmatched": [], "not_judged": 0, "notes": []}
    assert (quiet.status, json.loads(quiet.out)) == (0, nothing)
    for _ in range(11):
        api.post("/v1/jobs", {"pen": api.post("/v1/pens", PEN)["number"]})
    due = workshop.run("reorder", "--json")
    (line,) = json.loads(due.out)["lines"]
    assert due.status == 1
    assert (line["part"], line["available"], line["short"]) == ("SAC-15-STR", 10, 1)
    told = workshop.run("reorder", "--all")
    assert told.status == 1
    assert told.out.startswith("1 to order\n  order ")
    assert "11 wanted by JOB-0001, JOB-0002, JOB-0003" in told.out


def test_wrong_usage_is_2_and_no_server_3(shop: tuple[Workshop, Api], tmp_path: Path) -> None:
    """An option there is not is 2; a server that is not there is 3."""
    workshop, _ = shop
    assert workshop.run("reorder", "--jsn").status == 2
    away = Workshop(tmp_path, {"SPAREWELL_URL": "http://127.0.0.1:1"})
    assert away.run("reorder").status == 3


def test_the_command_imports_no_server(shop: tuple[Workshop, Api]) -> None:
    """It only asks, so it does without the server's libraries."""
    ran = shop[0].python("-X", "importtime", "-m", "sparewell.cli.main", "reorder")
    assert "urllib3" in ran.err
    assert "sqlalchemy" not in ran.err
    assert "flask" not in ran.err


def test_what_no_part_fits_is_told() -> None:
    """A need without a part says which job lacks it, and what to ask a seller for."""
    need: dict[str, Any] = {"job": "JOB-0001", "short": 1, "kind": "sac", "ask_for": ["a 16"]}
    assert _lines([], [need], 0) == [
        "nothing of the catalogue to order; 1 lacking",
        "  JOB-0001 lacks 1 sac, and no part fits",
        "    ask for a 16",
    ]


def test_a_skipped_policy_is_not_silence(tmp_path: Path, tables: bytes) -> None:
    """Without the plugin of the policies a used part cannot be judged: it is named, exit 1."""
    workshop = Workshop(tmp_path)
    workshop.database_file.parent.mkdir()
    workshop.database_file.write_bytes(tables)
    token = workshop.run("token", "new", "bench", "--scope", "write").out.strip()
    workshop.environment["SPAREWELL_SKIP_PLUGINS"] = "reorder"
    with workshop.serve() as running:
        workshop.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": token}
        api = Api(running.url, token)
        fill_drawer(api)
        job = api.post("/v1/jobs", {"pen": api.post("/v1/pens", PEN)["number"]})["number"]
        (row,) = api.post(f"/v1/jobs/{job}/reservations", {})["reservations"]
        api.post(f"/v1/reservations/{row['id']}/use", {})
        told = workshop.run("reorder")
    assert told.status == 1
    assert told.out.startswith("nothing else to order; 1 could not be judged")
    assert "SAC-15-STR" in told.err
    assert "is not loaded" in told.err
