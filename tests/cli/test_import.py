"""`sparewell import` and `sparewell export`, against a real server."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest
import urllib3

from support.spreadsheets import MESSY_LOTS, PARTS

PLAIN = "Part no.,Drawer,Qty,OD\nSAC-15-STR,A3,4,5.9\nSAC-15-STR,B1,2,\n"


@pytest.fixture
def ask(filled: Any, tmp_path: Path) -> Any:
    """Give a function that writes a table and runs the command on it, and the API."""
    workshop, _ = filled

    def run(table: str, *arguments: str, name: str = "cabinet.csv", **changes: str) -> Any:
        file = tmp_path / name
        file.write_text(table, "utf-8", newline="")
        return workshop.run("import", str(file), *arguments, **changes)

    def get(path: str) -> Any:
        answer = urllib3.request(
            "GET",
            workshop.environment["SPAREWELL_URL"] + path,
            headers={"Authorization": f"Bearer {workshop.environment['SPAREWELL_TOKEN']}"},
        )
        assert answer.status == 200
        return answer.json()

    return run, get, workshop


def test_a_dry_run_shows_columns_and_problems_and_changes_nothing(ask: Any) -> None:
    """Every column is told with why, every problem with its cell; the exit status is 1."""
    run, get, _ = ask
    ran = run(PLAIN, "--as", "lots")
    assert ran.status == 1
    assert "  D  OD -> measured.outside_diameter\n" in ran.out
    assert "'OD' is a word for outside diameter, measured" in ran.out
    assert "  B3 (Drawer): there is no drawer 'B1'\n     accepted: " in ran.out
    assert ran.out.endswith("Nothing was changed.\n")
    assert "Checking" in ran.err
    states = [each["state"] for each in get("/v1/imports")["imports"]]
    assert states == ["withdrawn"]


def test_what_is_clean_comes_in_with_apply_and_only_once(ask: Any) -> None:
    """Without --apply it only says so; with it all arrives; the same file again is refused."""
    run, get, workshop = ask
    dry = run(PLAIN, "--as", "lots", "--create-drawers")
    assert (dry.status, "nothing was changed; --apply" in dry.out) == (0, True)
    assert len(get("/v1/lots")["lots"]) == 1
    ran = run(PLAIN, "--as", "lots", "--create-drawers", "--apply")
    assert ran.status == 0, ran.out + ran.err
    assert "Brought in: 2 lots, 6 pieces, 1 drawers, as group 2 of the ledger." in ran.out
    assert "Bringing in" in ran.err
    again = run(PLAIN, "--as", "lots", "--apply")
    assert (again.status, "was applied as import 2" in again.out) == (1, True)
    assert len(get("/v1/lots")["lots"]) == 3
    assert workshop.run("audit").status == 0


def test_columns_are_mapped_and_shown_as_json(ask: Any) -> None:
    """--map overrides what was guessed, = alone leaves a column out, --json prints it all."""
    run, _, _ = ask
    table = "Part,Drawer,Much,OD\nSAC-15-STR,A3,4,=x\n"
    ran = run(table, "--as", "lots", "--map", "Much=quantity", "--map", "OD=", "--json")
    assert ran.status == 0, ran.err
    found = json.loads(ran.out)
    assert [each["field"] for each in found["columns"]] == ["part", "drawer", "quantity", None]
    messy = run(MESSY_LOTS, "--as", "lots", "--dates", "month-first", "--keep-unmapped")
    assert (messy.status, "may be" in messy.out) == (1, False)


@pytest.mark.parametrize(
    ("table", "arguments", "sentence"),
    [
        (PLAIN, [], "--as says"),
        (PLAIN, ["--as", "wheels"], "'wheels' is not one of"),
        (PLAIN, ["--as", "lots", "--map", "Qty"], "write HEADER=FIELD"),
        (PLAIN, ["--as", "lots", "--map", "Qty=count"], "'count' is nothing to take"),
        (PLAIN, ["--as", "lots", "--sheet", "x", "--header-row", "9"], "row 9 is empty"),
        ("red,blue\n", ["--as", "lots"], "no header row was found"),
    ],
)
def test_wrong_usage_is_told_with_status_2(
    ask: Any, table: str, arguments: list[str], sentence: str
) -> None:
    """What cannot be asked, or is no table, is wrong usage; nothing is left waiting."""
    run, get, _ = ask
    ran = run(table, *arguments)
    assert (ran.status, sentence in ran.err) == (2, True), ran.err
    assert "waiting" not in [each["state"] for each in get("/v1/imports")["imports"]]


def test_without_the_right_token_nothing_is_sent(ask: Any) -> None:
    """A token that may only read is told so, with status 3."""
    run, _, workshop = ask
    token = workshop.run("token", "new", "looker", "--scope", "read").out.strip()
    ran = run(PLAIN, "--as", "lots", SPAREWELL_TOKEN=token)
    assert (ran.status, "needs a token of scope write" in ran.err) == (3, True)


def test_everything_goes_out_and_into_an_empty_workshop(ask: Any, tmp_path: Path) -> None:
    """The lists and the document of a workshop are written whole; another is filled from them."""
    run, _, workshop = ask
    assert run(PARTS.replace("SAC-15-STR", "S15"), "--as", "parts", "--apply").status == 0
    folder = tmp_path / "out"
    refused = workshop.run("export", "--to", str(folder))
    assert (refused.status, "scope admin" in refused.err) == (3, True)
    assert not list(folder.glob("*.partial"))
    assert workshop.run("export", "--to", str(folder)).status == 1
    admin = workshop.run("token", "new", "keeper", "--scope", "admin").out.strip()
    whole = tmp_path / "whole"
    ran = workshop.run("export", "--to", str(whole), SPAREWELL_TOKEN=admin)
    assert ran.status == 0, ran.err
    with (whole / "parts.csv").open(encoding="utf-8-sig", newline="") as file:
        assert [row["number"] for row in csv.DictReader(file)] == [
            "SAC-15-STR",
            "S15",
            "SAC-16-STR",
        ]
    new = {"SPAREWELL_DATABASE_URL": f"sqlite:///{tmp_path / 'new.sqlite3'}"}
    document = str(whole / "everything.json")
    assert workshop.run("import", document, **new).status == 1
    assert workshop.run("migrate", **new).status == 0
    brought = workshop.run("import", document, **new)
    assert brought.status == 0, brought.err
    assert "everything agrees" in brought.out
    assert workshop.run("audit", **new).out == workshop.run("audit").out
    again = workshop.run("import", document)
    assert (again.status, "is in use" in again.err or "serve" in again.err) == (1, True)
    assert workshop.run("import", document, "--as", "lots", **new).status == 2


def test_bringing_in_a_table_imports_no_server(ask: Any, tmp_path: Path) -> None:
    """The command that only asks does without the server's libraries, or it would be slow."""
    _, _, workshop = ask
    file = tmp_path / "cabinet.csv"
    file.write_text(PLAIN)
    program = ("-X", "importtime", "-m", "sparewell.cli.main")
    for arguments in (("import", str(file), "--as", "lots"), ("export", "--to", str(tmp_path))):
        ran = workshop.python(*program, *arguments)
        assert ran.status == 1
        heavy = r"\| +(flask|sqlalchemy|alembic|marshmallow|pluggy|python_calamine)\b"
        assert not re.search(heavy, ran.err)
        assert re.search(r"\| +click\b", ran.err)
