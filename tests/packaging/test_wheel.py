"""The built wheel: it ships the four source roots, nothing else, and runs without the checkout."""

from __future__ import annotations

import configparser
import re
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.packaging, pytest.mark.rest]

ROOT = Path(__file__).parents[2]
LOWEST = ROOT / ".ci" / "lowest.txt"
SOURCE_ROOTS = ("service", "plugins", "migrations", "demo_seed")
# What may lie in a package beside modules; anything else is a stray file.
DATA_SUFFIXES = {".csv", ".json", ".css", ".html", ".js", ".svg", ".ico"}
DATA_NAMES = {"py.typed"}


@pytest.fixture(scope="session")
def shipped(wheel: Path) -> set[str]:
    """The names of the files in the wheel."""
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


def in_checkout(pattern: str) -> set[str]:
    """Return the files of the four source roots that match, as the wheel names them."""
    return {
        file.relative_to(ROOT / root).as_posix()
        for root in SOURCE_ROOTS
        for file in (ROOT / root).rglob(pattern)
        if file.is_file() and "__pycache__" not in file.parts
    }


def test_wheel_ships_every_module(shipped: set[str]) -> None:
    """Each module of the four source roots is in the wheel under its import name."""
    modules = in_checkout("*.py")
    assert "sparewell/plugin.py" in modules
    assert {name for name in shipped if name.endswith(".py")} == modules


def test_wheel_ships_data_and_typing_markers(shipped: set[str]) -> None:
    """The files that modules read at run time, and py.typed, are in the wheel."""
    assert {
        "sparewell/py.typed",
        "sparewell_migrations/versions/0001_first_release.py",
    } <= shipped
    seed = {name for name in in_checkout("*") if name.startswith("sparewell_demo_seed/")}
    assert any(Path(name).suffix in DATA_SUFFIXES for name in seed), "the demo seed has no data"
    assert seed <= shipped


def is_expected(name: str) -> bool:
    """Whether a file is of a sort that may lie in a package."""
    path = Path(name)
    return "__pycache__" not in path.parts and (
        path.suffix in {".py", *DATA_SUFFIXES} or path.name in DATA_NAMES
    )


def test_wheel_ships_no_stray_file(shipped: set[str]) -> None:
    """Tests, caches, databases and notes left under a source root are not shipped."""
    of_packages = {name for name in shipped if ".dist-info/" not in name}
    assert {name for name in of_packages if not is_expected(name)} == set()
    packages = {
        folder.name
        for root in SOURCE_ROOTS
        for folder in (ROOT / root).iterdir()
        if (folder / "__init__.py").exists()
    }
    assert {name.split("/")[0] for name in of_packages} == packages


def test_wheel_announces_program_and_plugins(
    wheel: Path, shipped: set[str], project: dict[str, Any]
) -> None:
    """The wheel's entry points are those of pyproject.toml, and the licence is in it."""
    (name,) = (name for name in shipped if name.endswith(".dist-info/entry_points.txt"))
    parser = configparser.ConfigParser()
    with zipfile.ZipFile(wheel) as archive:
        parser.read_string(archive.read(name).decode())
    assert dict(parser["console_scripts"]) == project["scripts"]
    assert dict(parser["sparewell.plugins"]) == project["entry-points"]["sparewell.plugins"]
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in shipped)


def test_installed_program_comes_from_the_wheel(installation: Any) -> None:
    """The fresh environment imports nothing from this checkout."""
    source = "import sparewell, sparewell_sacs, sparewell_migrations; print(sparewell.__file__)"
    said = subprocess.run(
        [str(installation.python), "-c", source],
        cwd=installation.folder,
        env=installation.environment(),
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert str(installation.folder) in said


def test_installed_program_tells_its_version(installation: Any, project: dict[str, Any]) -> None:
    """`--version` is the version of pyproject.toml."""
    assert installation.run("--version").strip() == f"sparewell {project['version']}"


def test_lowest_versions_are_those_the_project_allows(project: dict[str, Any]) -> None:
    """`.ci/lowest.txt` pins each dependency to the line of its lower bound in pyproject.toml."""
    pinned = dict(re.findall(r"^([a-z0-9._-]+)==([^ ]+)", LOWEST.read_text(), re.MULTILINE))
    bounds = [re.match(r"([a-z0-9-]+)>=([0-9.]+)", each) for each in project["dependencies"]]
    assert all(bounds), project["dependencies"]
    wanted = {bound[1]: _line_of(bound[2]) for bound in bounds if bound}
    assert {name: _line_of(pinned[name]) for name in wanted} == wanted


def _line_of(version: str) -> tuple[int, ...]:
    """Return the first two numbers: of a line's patches the first is not always to be had."""
    return tuple(int(each) for each in version.split(".")[:2])
