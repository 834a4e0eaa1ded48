"""What the documents say is what the code has."""

from __future__ import annotations

import inspect
import re
import tomllib
from pathlib import Path

from sparewell.configuration import VARIABLES
from sparewell.extend.hooks import Hooks

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def variable_table() -> str:
    """Return the rows that DEVELOPERS.md must have, from the declared variables."""
    return "\n".join(
        f"| `{each.name}` | {each.holds} | {each.default} | {each.help} |" for each in VARIABLES
    )


def test_environment_table_is_the_declared_one() -> None:
    """DEVELOPERS.md lists every variable with its default and help, and no other."""
    assert variable_table() in DEVELOPERS
    assert set(re.findall(r"`(SPAREWELL_\w+)` \|", DEVELOPERS)) == {e.name for e in VARIABLES}


def test_every_hook_has_a_heading_with_its_signature() -> None:
    """Each hook is documented under its exact signature."""
    for name, function in inspect.getmembers(Hooks, inspect.isfunction):
        returned = str(inspect.signature(function).return_annotation)
        assert f"#### `{name}() -> {returned}`" in DEVELOPERS


def test_every_dependency_earns_its_place() -> None:
    """Each package named in pyproject.toml has its reason in DEVELOPERS.md."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = [*project["dependencies"]]
    for extra in project["optional-dependencies"].values():
        wanted += extra
    table = DEVELOPERS.split("### Why each dependency")[1]
    for requirement in wanted:
        name = re.match(r"[a-zA-Z0-9-]+", requirement)
        assert name
        assert re.search(rf"\b{name.group()}\b", table), requirement
        assert "<" in requirement, f"{requirement} has no upper bound"


def test_changelog_speaks_of_this_version() -> None:
    """The newest heading of CHANGELOG.md is the version of pyproject.toml."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert f"## {project['version']}" in (ROOT / "CHANGELOG.md").read_text()


def test_the_product_stands_alone() -> None:
    """No file of the product points at a path outside it, upwards or from the root."""
    outside = re.compile(r"""["'( ](?:\.\./|/(?:home|root|work|tmp|Users)/)""")
    for root in ("service", "plugins", "migrations", "demo_seed"):
        for path in (ROOT / root).rglob("*"):
            if path.suffix in {".py", ".csv", ".json", ".toml"}:
                assert not outside.search(path.read_text()), path
