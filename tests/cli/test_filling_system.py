"""`sparewell filling-system`, against a real server."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def ask(stocked: Any) -> Any:
    """Give a function that runs a command against the stocked server."""
    return stocked[0].run


@pytest.fixture
def ask_own(migrated: Any) -> Iterator[Any]:
    """Give a function that runs a command against a server whose workshop may be changed."""
    token = migrated.run("token", "new", "bench", "--scope", "write").out.strip()
    with migrated.serve() as running:
        migrated.environment |= {"SPAREWELL_URL": running.url, "SPAREWELL_TOKEN": token}
        yield migrated.run


def test_a_copy_is_changed_and_added_by_a_person(ask_own: Any, tmp_path: Path) -> None:
    """What `show` prints, under another name and with one need more, is what `add` takes."""
    ask = ask_own
    shown = ask("filling-system", "show", "squeeze_bar")
    assert shown.status == 0
    document = json.loads(shown.out)
    assert document["tests"][0]["at_most"] == 5
    document |= {"name": "vinyl_squeezer", "title": "squeeze-bar filler of a later kind"}
    document["needs"].append({"kind": "cap_ring", "seals_where": "none: round the cage"})
    file = tmp_path / "mine.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    added = ask("filling-system", "add", str(file))
    assert added.status == 0
    assert added.out == (
        "Added vinyl_squeezer: squeeze-bar filler of a later kind; "
        "it needs sac, breather_tube, cap_ring.\n"
    )
    again = json.loads(ask("filling-system", "show", "vinyl_squeezer").out)
    assert again["needs"][:2] == document["needs"][:2]
    assert [need["kind"] for need in again["needs"]] == ["sac", "breather_tube", "cap_ring"]
    assert ask("filling-system", "add", str(file)).status == 1


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "is not JSON"),
        ("[]", "must hold one object"),
        ('{"name": "x", "title": "x", "needs": [{"kind": "sacc", "seals_where": "x"}]}', "'sacc'"),
        ('{"name": "x", "title": "x", "needs": []}', "needs: must be 1 to 50 of them"),
    ],
)
def test_a_file_that_cannot_be_added_is_wrong_usage(
    ask: Any, tmp_path: Path, text: str, told: str
) -> None:
    """What is wrong with the file is said, and the exit status is 2."""
    file = tmp_path / "mine.json"
    file.write_text(text, encoding="utf-8")
    ran = ask("filling-system", "add", str(file))
    assert ran.status == 2
    assert told in ran.err


def test_a_system_or_a_file_that_is_not_there_is_told(ask: Any, tmp_path: Path) -> None:
    """An unknown name is a plain no; a file that is not there is wrong usage."""
    ran = ask("filling-system", "show", "steam")
    assert (ran.status, ran.err) == (1, "sparewell: there is no filling system 'steam'\n")
    assert ask("filling-system", "add", str(tmp_path / "none.json")).status == 2
