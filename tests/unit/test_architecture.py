"""The house as DEVELOPERS.md draws it: arrows between rooms point one way, and rooms stay small."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
SERVICE = ROOT / "service" / "sparewell"
SOURCE_ROOTS = ("service", "plugins", "migrations", "demo_seed")
MOST_LINES_OF_A_FUNCTION = 70
MOST_LINES_OF_A_FILE = 400

# From the ground up: a file may import what lies on floors below its own, and its own room.
FLOORS = (
    ("errors", "configuration", "tally"),
    ("measure",),
    ("database",),
    ("extend",),
    ("plugin", "work"),
    ("edge",),
    ("settings",),
    ("catalogue", "cautions"),
    ("places",),
    ("lots",),
    ("ledger",),
    ("reservations",),
    ("handling",),
    ("fitting",),
    ("filling_systems",),
    ("pens",),
    ("jobs",),
    ("timers", "outcomes"),
    ("closing", "learned"),
    ("plans",),
    ("donors",),
    ("photographs", "purchases"),
    ("history",),
    ("suppliers",),
    ("orders",),
    ("reorder",),
    ("tonight", "triage"),
    ("imports",),
    ("exports",),
    ("audit",),
    ("bench",),
    ("app",),
    ("cli",),
)
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
WITH_FLASK = {"edge", "app", "bench"}


def _imports(path: Path) -> Iterator[str]:
    """Yield what a file imports, `from sparewell import errors` as sparewell.errors."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            if node.module == "sparewell":
                yield from (f"sparewell.{alias.name}" for alias in node.names)
            else:
                yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def _modules() -> list[Path]:
    return [path for path in sorted(SERVICE.rglob("*.py")) if path != SERVICE / "__init__.py"]


def _is_of_other_views(name: str) -> bool:
    """Whether a module is one of views, or says how the API shows what rooms hold."""
    last = name.rsplit(".", maxsplit=1)[-1]
    return last in {"views", "showing"} and not name.startswith("sparewell.bench")


def _room(path: Path) -> str:
    return path.relative_to(SERVICE).parts[0].removesuffix(".py")


def _rooms_used(path: Path) -> set[str]:
    steps = [name.split(".") for name in _imports(path)]
    return {step[1] for step in steps if step[0] == "sparewell" and len(step) > 1} - {_room(path)}


def test_every_room_has_its_floor() -> None:
    """Each room of the service stands in FLOORS, and nothing stands there that is no room."""
    assert {_room(path) for path in _modules()} == set(FLOOR_OF)


def test_the_guide_draws_the_same_house() -> None:
    """DEVELOPERS.md names every room once, from the top floor down, but for the modules for all."""
    guide = (ROOT / "DEVELOPERS.md").read_text()
    table = guide.partition("| floor | rooms |")[2].partition("\n\n")[0]
    rooms = re.findall(r"`(\w+)(?:/|\.py)`", table)
    assert sorted(rooms) == sorted(set(FLOOR_OF) - {"errors", "configuration", "tally", "plugin"})
    assert rooms == sorted(rooms, key=lambda room: -FLOOR_OF[room])


def test_arrows_point_down() -> None:
    """No file, be it tables, schemas, views or operations, imports from its own floor or above."""
    up = [
        f"{path.relative_to(SERVICE)} -> {used}"
        for path in _modules()
        for used in sorted(_rooms_used(path))
        if FLOOR_OF[used] >= FLOOR_OF[_room(path)]
    ]
    assert not up


def test_flask_stays_at_the_edge() -> None:
    """Only views, the edge, the app and the bench import Flask, flask-smorest or werkzeug."""
    web = {"flask", "flask_smorest", "werkzeug"}
    elsewhere = [
        str(path.relative_to(SERVICE))
        for path in _modules()
        if _room(path) not in WITH_FLASK and path.stem != "views"
        if web & {name.split(".")[0] for name in _imports(path)}
    ]
    assert not elsewhere


def test_operations_know_no_http() -> None:
    """Only views, schemas and the doors import the edge, but for what describes a thing."""
    pure = ("description", "fields", "measured", "schema")
    describing = {f"sparewell.edge.{name}" for name in pure}
    elsewhere = [
        str(path.relative_to(SERVICE))
        for path in _modules()
        if _room(path) not in {"app", "bench", "cli", "edge"}
        if path.stem not in {"views", "schemas"}
        if any(name.startswith("sparewell.edge") for name in set(_imports(path)) - describing)
    ]
    assert not elsewhere


def test_the_bench_is_a_second_set_of_views() -> None:
    """A page takes of a room what its views take, and never those."""
    through_views = [
        f"{path.relative_to(SERVICE)} -> {name}"
        for path in _modules()
        if _room(path) == "bench"
        for name in _imports(path)
        if _is_of_other_views(name)
    ]
    assert not through_views


def test_every_file_of_pages_is_registered() -> None:
    """A file of the bench with a page in it is imported in bench/views.py, or nobody sees it."""
    bench = SERVICE / "bench"
    with_pages = {path.stem for path in bench.glob("*.py") if "\n@blueprint." in path.read_text()}
    tree = ast.parse((bench / "views.py").read_text())
    imported = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == "sparewell.bench"
        for alias in node.names
    }
    assert with_pages <= imported | {"pages"}


def test_only_the_transaction_commits() -> None:
    """`commit` and `session.begin()` stand in database/transaction.py and nowhere else."""
    elsewhere = [
        f"{path.relative_to(SERVICE)}:{node.lineno} {node.func.attr}"
        for path in _modules()
        if path != SERVICE / "database" / "transaction.py"
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        if node.func.attr == "commit" or _begins_a_session(node.func)
    ]
    assert not elsewhere


def _begins_a_session(called: ast.Attribute) -> bool:
    return called.attr == "begin" and "session" in ast.unparse(called.value).lower()


def test_every_class_has_a_name_of_its_own() -> None:
    """No two classes behind the pages are called the same, so that a name says which is meant."""
    named = defaultdict(list)
    for path in _modules():
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.ClassDef):
                named[node.name].append(str(path.relative_to(SERVICE)))
    assert not {name: paths for name, paths in named.items() if len(paths) > 1}


def test_the_words_of_a_column_stand_in_one_place() -> None:
    """No CHECK lists its words by hand: they are made of the enumeration beside the table."""
    by_hand = [
        f"{path.relative_to(SERVICE)}:{node.lineno} {node.value}"
        for path in _modules()
        if path.stem == "tables"
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant) and " IN ('" in str(node.value)
    ]
    assert not by_hand


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
