"""The commands that ask a server, against a real one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

PEN = (
    "--barrel-bore",
    "8.0 mm",
    "--bar-height",
    "0.9 mm",
    "--nipple-diameter",
    "6.4 mm",
    "--barrel-depth",
    "62 mm",
)
SAC = ("stock", "check", "--kind", "sac")


@pytest.fixture
def ask(stocked: Any) -> Any:
    """Give a function that runs a command against the stocked server."""
    return stocked[0].run


def test_size_prints_the_numbers_first(ask: Any) -> None:
    """`size` answers with the sizes, what is recommended and what limits it, in its first lines."""
    ran = ask("size", "sac", *PEN)
    assert ran.status == 0
    assert [line.split() for line in ran.out.splitlines()[:4]] == [
        ["size", "15"],
        ["half", "size", "15.5"],
        ["recommended", "15.5"],
        ["limited", "by", "barrel"],
    ]


def test_size_shows_the_working_only_when_asked(ask: Any) -> None:
    """The working is left out, and `--working` brings every step."""
    assert "Working:" not in ask("size", "sac", *PEN).out
    assert "Working:\n  - " in ask("size", "sac", *PEN, "--working").out


def test_fit_says_which_lot_and_where(ask: Any) -> None:
    """`fit` names the lot, its place, how many are free and the verdict."""
    ran = ask("fit", "sac", *PEN)
    assert ran.status == 0
    line = next(line for line in ran.out.splitlines() if line.startswith("  lot "))
    assert line.startswith("  lot 1  in A3  SAC-15-STR  10 available  fits  5.9 mm outside")


def test_fit_by_material_refuses_the_others_and_says_what_to_buy(ask: Any) -> None:
    """Only pieces of the wanted material are offered; there being none, it says what to buy."""
    ran = ask("fit", "sac", *PEN, "--material", "silicone", "--material", "pvc")
    assert ran.status == 0
    assert "Nothing in hand fits." in ran.out
    assert "Refused, nearest first:\n  lot 1" in ran.out
    assert "To buy:\n  - " in ran.out


def test_json_is_what_the_server_sent(ask: Any) -> None:
    """`--json` prints the server's document, and nothing else."""
    body = json.loads(ask("fit", "sac", *PEN, "--limit", "1", "--json").out)
    assert body["result"]["size"] == 15
    assert body["result"]["barrel_limit"] == 15.62
    assert [found["lot"] for found in body["candidates"]] == [1]


def test_drawing_goes_to_a_file(ask: Any, tmp_path: Path) -> None:
    """`--drawing` writes the SVG to the file named."""
    file = tmp_path / "pen.svg"
    assert ask("size", "sac", *PEN, "--drawing", str(file)).status == 0
    assert file.read_text().startswith("<svg")


def test_help_comes_from_the_server(ask: Any) -> None:
    """The options of a calculator, and how to take each reading, are what the server declares."""
    text = ask("size", "sac", "--help").out
    assert "--nipple-diameter LENGTH" in text
    assert "Clean off old shellac" in " ".join(text.split())
    assert "--bar-rule [twice|once|none]" in text
    assert "Sac size" in ask("fit", "--help").out


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("size", "sac", "--nipple-diameter", "6.4 parsec"), 2, "no known unit"),
        (("size", "sac", "--nipple-diameter", "6.4", "--barrel-bore", "0"), 2, "barrel_bore"),
        (("size", "sac"), 2, "--nipple-diameter"),
        (("size", "sac", "--nipple-diameter", "6.4", "--bar-rule", "thrice"), 2, "thrice"),
        (("fit", "lever_of_archimedes"), 2, "there is no calculator"),
        (("size", "sacs"), 2, "there is no calculator"),
        ((*SAC, "--outside-diameter", "5.9 parsec"), 2, "no known unit"),
        ((*SAC, "--tolerance", "0.1"), 2, "--tolerance needs a dimension"),
        (("stock", "check", "--kind", "sack"), 2, "there is no kind 'sack'"),
        (("stock", "check"), 2, "--kind"),
    ],
)
def test_refusals_have_their_status(
    ask: Any, arguments: tuple[str, ...], status: int, said: str
) -> None:
    """A wrong value, or a name that the server does not have, is 2, told in one sentence."""
    ran = ask(*arguments)
    assert (ran.status, ran.out) == (status, "")
    assert said in ran.err
    assert "Traceback" not in ran.err


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (("--outside-diameter", "5.9", "--tolerance", "0", "--at-least", "10"), 0),
        (("--outside-diameter", "15/64 in", "--tolerance", "0.1 mm", "--at-least", "2"), 0),
        (("--outside-diameter", "5.9", "--tolerance", "0.1", "--at-least", "11"), 1),
        (("--outside-diameter", "6.35", "--tolerance", "0.1"), 1),
        (("--length", "1 m"), 2),
        (("--length", "75", "--place", "A3", "--material", "latex"), 0),
        (("--length", "75", "--place", "A4"), 1),
        (("--length", "75", "--tolerance", "999"), 0),
        (("--width", "75", "--tolerance", "999"), 1),
    ],
)
def test_stock_check_answers_by_its_status(
    ask: Any, arguments: tuple[str, ...], status: int
) -> None:
    """Enough is 0 and short is 1, in every spelling of a length; a bad one is 2."""
    assert ask(*SAC, *arguments).status == status


def test_stock_check_counts_over_lots(ask: Any) -> None:
    """`--json` holds the count, and each lot that was counted."""
    found = json.loads(ask(*SAC, "--at-least", "11", "--json").out)
    assert (found["enough"], found["available"], found["at_least"]) == (False, 10, 11)
    assert [lot["place"] for lot in found["lots"]] == ["A3"]


@pytest.mark.parametrize(
    "changes",
    [
        {"SPAREWELL_URL": "http://127.0.0.1:1"},
        {"SPAREWELL_URL": "somewhere"},
        {"SPAREWELL_TOKEN": "spare-wrong"},
        {"SPAREWELL_TOKEN": ""},
    ],
)
def test_a_closed_door_is_three(ask: Any, changes: dict[str, str]) -> None:
    """No server, no address, no token and a wrong token are 3, told plainly."""
    ran = ask("size", "sac", *PEN, **changes)
    assert (ran.status, ran.out) == (3, "")
    assert ran.err.startswith("sparewell: ")
    assert "Traceback" not in ran.err


def test_help_without_a_server_still_helps(ask: Any) -> None:
    """`size --help` says why the calculators cannot be listed, and ends well."""
    ran = ask("size", "--help", SPAREWELL_URL="http://127.0.0.1:1")
    assert ran.status == 0
    assert "They are listed when the server answers" in ran.out


def test_audit_reads_beside_the_server(ask: Any) -> None:
    """`audit` agrees while the server runs, and says so in JSON too."""
    assert ask("audit").out == "1 lots, 1 movements, 0 reservations: everything agrees\n"
    assert json.loads(ask("audit", "--json").out)["faults"] == []
