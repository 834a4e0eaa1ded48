"""The house as DEVELOPERS.md draws it: arrows between rooms point one way, and rooms stay small."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SERVICE = ROOT / "service" / "sparewell"
SOURCE_ROOTS = ("service", "plugins", "migrations", "demo_seed")
MOST_LINES_OF_A_FUNCTION = 70
MOST_LINES_OF_A_FILE = 400

# Below each room, the rooms its operations may rest on. `errors` is everybody's.
FLOOR = (
    *("measure", "database", "extend", "catalogue", "stock", "fitting", "repairs", "supply"),
    "notebook",
)
FACE = ("views", "schemas")
WITH_FLASK = {"edge", "app", "bench"}


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def _modules() -> list[Path]:
    return sorted(SERVICE.rglob("*.py"))


def _room(path: Path) -> str:
    parts = path.relative_to(SERVICE).parts
    return parts[0] if len(parts) > 1 else ""


def _rooms_used(path: Path) -> set[str]:
    used = set()
    for name in _imports(path):
        steps = name.split(".")
        if steps[0] == "sparewell" and len(steps) > 2:
            used.add(steps[1])
    return used


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(SERVICE)))
def test_arrows_point_one_way(path: Path) -> None:
    """Operations rest only on rooms below; views also use the edge; nothing rests on app or cli."""
    room = _room(path)
    used = _rooms_used(path) - {room}
    if room in FLOOR and path.stem not in FACE:
        assert used <= set(FLOOR[: FLOOR.index(room)]), f"{path} reaches up to {used}"
    elif room in FLOOR:
        assert used <= {*FLOOR, "edge"}, f"{path} uses {used}"
    elif room == "edge":
        assert used <= {"measure", "database", "extend"}, f"{path} uses {used}"
    elif room == "bench":
        # It asks the API like any other program, so it knows none of the rooms behind it.
        assert used <= {"measure", "database", "extend", "edge"}, f"{path} uses {used}"
    assert "cli" not in used
    assert room in {"app", "cli", "bench", ""} or "app" not in used


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(SERVICE)))
def test_flask_stays_at_the_edge(path: Path) -> None:
    """Only views, the edge, the app and the bench import Flask, flask-smorest or werkzeug."""
    web = {name.split(".")[0] for name in _imports(path)} & {"flask", "flask_smorest", "werkzeug"}
    assert not web or _room(path) in WITH_FLASK or path.stem == "views"


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(SERVICE)))
def test_only_the_transaction_commits(path: Path) -> None:
    """`commit` and `session.begin()` stand in database/transaction.py and nowhere else."""
    if path.name == "transaction.py":
        return
    calls = [
        node.func.attr
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    ]
    assert "commit" not in calls


def _python_files() -> list[Path]:
    return [
        path
        for root in SOURCE_ROOTS
        for path in sorted((ROOT / root).rglob("*.py"))
        if "versions" not in path.parts
    ]


def test_files_and_functions_stay_small() -> None:
    """No file is over 400 lines and no function over 70."""
    long = []
    for path in _python_files():
        text = path.read_text()
        if len(text.splitlines()) > MOST_LINES_OF_A_FILE:
            long.append(str(path))
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef) and node.end_lineno:
                lines = node.end_lineno - node.lineno + 1
                if lines > MOST_LINES_OF_A_FUNCTION:
                    long.append(f"{path}:{node.name} has {lines} lines")
    assert not long


def test_every_test_says_what_it_expects() -> None:
    """Each test function has a docstring that is a sentence."""
    silent = []
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                sentence = ast.get_docstring(node) or ""
                if not sentence.rstrip().endswith("."):
                    silent.append(f"{path.name}:{node.name}")
    assert not silent
