"""Options made from what a calculator declares, of every type there is."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result

from sparewell.cli.calculators import command_of
from sparewell.cli.client import ServerAnswer


class Recorder:
    """Stands for the server: keeps what was sent and answers nothing much."""

    def __init__(self) -> None:
        self.sent: list[tuple[str, Any]] = []

    def post(self, path: str, body: Any) -> ServerAnswer:
        """Keep a request."""
        self.sent.append((path, body))
        found = {"candidates": [], "refused": [], "to_buy": []}
        return ServerAnswer("{ }", {"result": {}, "drawing": None, **found})


def _input(name: str, kind: str, *choices: str) -> dict[str, Any]:
    return {
        "name": name,
        "title": name,
        "type": kind,
        "help": "",
        "how": "",
        "required": False,
        "measured": False,
        "choices": list(choices),
        "members": [],
    }


def _group(name: str, *members: dict[str, Any]) -> dict[str, Any]:
    return _input(name, "group") | {"members": list(members)}


DECLARED: dict[str, Any] = {
    "name": "winder",
    "title": "Winder",
    "help": "Winds.",
    "inputs": [
        _input("wire_diameter", "length"),
        _input("rate", "number"),
        _input("coils", "integer"),
        _input("left_hand", "flag"),
        _input("material", "choice", "steel", "brass"),
        _input("remark", "text"),
        _input("limit", "text"),
        _group("ring", _input("inside_diameter", "length"), _input("worn", "flag")),
    ],
}


def _run(*arguments: str, fits: bool = False) -> tuple[Result, list[tuple[str, Any]]]:
    recorder = Recorder()
    command = command_of(recorder, DECLARED, fits=fits)  # type: ignore[arg-type]
    return CliRunner().invoke(command, list(arguments)), recorder.sent


def test_each_type_is_sent_as_it_is_meant() -> None:
    """Lengths and numbers travel as typed, whole numbers and flags as what they are."""
    result, sent = _run(
        *("--wire-diameter", "0.5 mm", "--rate", "0,30", "--coils", "7", "--no-left-hand"),
        *("--material", "brass", "--remark", "an old one", "--input-limit", "none"),
    )
    assert result.exit_code == 0
    body = {
        "wire_diameter": "0.5 mm",
        "rate": "0,30",
        "coils": 7,
        "left_hand": False,
        "material": "brass",
        "remark": "an old one",
        "limit": "none",
    }
    assert json.loads(json.dumps(sent)) == [["/v1/calculators/winder", body]]


def test_members_of_a_group_are_options_and_travel_together() -> None:
    """Each member has an option of its own; those given are sent in one object."""
    result, sent = _run("--ring-inside-diameter", "2.9 mm", "--ring-worn")
    assert result.exit_code == 0
    body = {"ring": {"inside_diameter": "2.9 mm", "worn": True}}
    assert sent == [("/v1/calculators/winder", body)]


@pytest.mark.parametrize("arguments", [("--coils", "many"), ("--material", "wood"), ("--x", "1")])
def test_what_cannot_be_meant_is_wrong_usage(arguments: tuple[str, str]) -> None:
    """A value outside its type, a choice that is none and an unknown option are never sent."""
    result, sent = _run(*arguments)
    assert (result.exit_code, sent) == (2, [])


@pytest.mark.parametrize(
    ("materials", "body"),
    [
        (("brass",), {"materials": ["brass"], "material": "brass"}),
        (("brass", "steel"), {"materials": ["brass", "steel"]}),
        (("wood",), {"materials": ["wood"]}),
        ((), {}),
    ],
)
def test_the_material_of_a_fit_chooses_pieces(
    materials: tuple[str, ...], body: dict[str, Any]
) -> None:
    """Any materials choose among the pieces; a single known one is reckoned with as well."""
    options = [text for material in materials for text in ("--material", material)]
    _, sent = _run(*options, "--limit", "3", fits=True)
    assert sent == [("/v1/fits/winder", {**body, "limit": 3})]


def test_a_drawing_that_is_not_there_is_a_no(tmp_path: Any) -> None:
    """Asked for a drawing of a calculator that has none, it writes nothing and ends with 1."""
    file = tmp_path / "nothing.svg"
    result, _ = _run("--drawing", str(file), "--json")
    assert (result.exit_code, result.stdout) == (1, "{ }\n")
    assert not file.exists()
