"""The layout that packaging rests on: source roots, entry points, and what plugins may import."""

from __future__ import annotations

import ast
import inspect
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

import sparewell.plugin
from sparewell.extend.host import ENTRY_POINT_GROUP

ROOT = Path(__file__).parents[2]
SOURCE_ROOTS = ("service", "plugins", "migrations", "demo_seed")
PLUGIN_PACKAGES = sorted(
    folder for folder in (ROOT / "plugins").iterdir() if (folder / "__init__.py").exists()
)
OUT_OF_TREE = ROOT / "tests" / "packaging" / "out_of_tree_plugin" / "sparewell_bushings"
FORBIDDEN = {"flask", "flask_smorest", "werkzeug", "marshmallow", "pluggy"}


def imports_of(package: Path) -> set[str]:
    """Return the full name of every module that the modules of a package import."""
    found = set()
    for file in package.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{file}: a relative import"
                module = node.module or ""
                # `from sparewell import plugin` imports the module that it names last.
                last = [alias.name for alias in node.names] if module == "sparewell" else []
                found |= {f"{module}.{name}" for name in last} or {module}
    return found


@pytest.mark.parametrize("group", ["console_scripts", ENTRY_POINT_GROUP])
def test_installed_entry_points_are_those_of_the_project(
    project: dict[str, Any], group: str
) -> None:
    """What is installed announces the program and the plugins that pyproject.toml declares."""
    declared = {"console_scripts": project["scripts"], **project["entry-points"]}[group]
    installed = {
        point.name: point.value
        for point in metadata.distribution("sparewell").entry_points
        if point.group == group
    }
    assert installed == declared, "install again: pip install -e '.[postgres,test]'"


@pytest.mark.parametrize("root", SOURCE_ROOTS)
def test_source_roots_are_no_packages(root: str) -> None:
    """A source root holds packages and is none itself, so it has no module of its own."""
    assert (ROOT / root).is_dir()
    assert list((ROOT / root).glob("*.py")) == []


@pytest.mark.parametrize("package", PLUGIN_PACKAGES, ids=lambda package: package.name)
def test_bundled_plugin_has_an_entry_point_of_its_name(
    project: dict[str, Any], package: Path
) -> None:
    """A package under plugins/ is found through an entry point that carries its name."""
    name = package.name.removeprefix("sparewell_")
    announced = project["entry-points"][ENTRY_POINT_GROUP]
    assert announced.get(name) == f"{package.name}.plugin"


def test_every_folder_under_plugins_is_a_package(project: dict[str, Any]) -> None:
    """No folder under plugins/ lacks its __init__.py, and no entry point leads elsewhere."""
    folders = {
        folder.name
        for folder in (ROOT / "plugins").iterdir()
        if folder.is_dir() and folder.name != "__pycache__"
    }
    assert folders == {package.name for package in PLUGIN_PACKAGES}
    announced = project["entry-points"][ENTRY_POINT_GROUP].values()
    assert {value.split(".")[0] for value in announced} == folders


@pytest.mark.parametrize(
    "package", [*PLUGIN_PACKAGES, OUT_OF_TREE], ids=lambda package: package.name
)
def test_plugins_import_one_public_module(package: Path) -> None:
    """A plugin takes from Sparewell only `sparewell.plugin`, and nothing of the HTTP framework."""
    imported = imports_of(package)
    ours = {name for name in imported if name.startswith("sparewell")}
    assert {name for name in ours if name.split(".")[0] != package.name} == {"sparewell.plugin"}
    assert {name.split(".")[0] for name in imported} & FORBIDDEN == set()


def test_public_names_are_sorted_and_exact() -> None:
    """`__all__` lists every public name of the module once: constants, classes, functions."""
    listed = sparewell.plugin.__all__
    defined = {name for name in vars(sparewell.plugin) if not name.startswith("_")}
    assert set(listed) == defined
    assert len(set(listed)) == len(listed)
    assert listed == sorted(listed, key=lambda name: (not name.isupper(), name[0].islower(), name))


@pytest.mark.parametrize("name", sparewell.plugin.__all__)
def test_public_names_are_documented(name: str) -> None:
    """Each class and function that a plugin may import has a docstring that somebody wrote."""
    item = getattr(sparewell.plugin, name)
    if not (inspect.isclass(item) or inspect.isfunction(item)):
        return
    text = inspect.cleandoc(item.__doc__ or "")
    assert text
    assert not text.startswith(f"{name}("), "this is what dataclasses write by themselves"
