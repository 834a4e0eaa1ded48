"""What holds of every bundled plugin alike, so that none has to test it for itself."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from sparewell.app.declarations import core_declarations
from sparewell.plugin import Calculator, FieldType, Output
from support.api import Api

ROOT = Path(__file__).parents[2]
PACKAGES = sorted((ROOT / "plugins").glob("sparewell_*"))
DECLARED = core_declarations()


def every_output(outputs: tuple[Output, ...]) -> Iterator[Output]:
    """Yield outputs and their members."""
    for output in outputs:
        yield output
        yield from every_output(output.members)


@pytest.mark.parametrize("package", PACKAGES, ids=lambda package: package.name)
def test_plugin_imports_only_the_public_module(package: Path) -> None:
    """Of the service a plugin imports sparewell.plugin, of the plugins itself, and is typed."""
    assert (package / "py.typed").is_file()
    for path in package.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module.startswith("sparewell"):
                own = node.module.split(".")[0] == package.name
                assert own or node.module == "sparewell.plugin", path
            if isinstance(node, ast.Import):
                assert not any(name.name.startswith("sparewell") for name in node.names), path


@pytest.mark.parametrize("package", PACKAGES, ids=lambda package: package.name)
def test_plugin_makes_settings_and_drawings_with_the_public_helpers(package: Path) -> None:
    """No plugin writes SVG of its own, and none builds a setting but with a builder."""
    for path in package.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "<svg" not in text, path
        called = {
            ast.unparse(node.func)
            for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.Call)
        }
        assert "Setting" not in called, path


def test_class_of_a_plugin_has_its_name_to_itself() -> None:
    """No class of a plugin is called like another of the house, so that a name says one thing."""
    named = [
        (node.name, path)
        for root in (ROOT / "plugins", ROOT / "service")
        for path in sorted(root.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
    ]
    times = Counter(name for name, _ in named)
    twice = [(name, path) for name, path in named if times[name] > 1]
    assert not [each for each in twice if (ROOT / "plugins") in each[1].parents]


@pytest.mark.parametrize("calculator", DECLARED.calculators.values(), ids=lambda each: each.name)
def test_every_member_says_what_it_is(calculator: Calculator) -> None:
    """Outputs and inputs have their words, and readings say how they are taken."""
    assert all(calculator.sources)
    for output in every_output(calculator.outputs):
        assert output.help, output.name
    for field in calculator.inputs:
        assert field.title, field.name
        assert field.help or field.how or field.choices, field.name
        assert not field.measured or field.how, field.name


def test_every_setting_has_a_source_and_a_default_that_is_allowed() -> None:
    """A default lies within its setting's limits, or is one of its choices; null where it may."""
    for setting in DECLARED.settings.values():
        assert setting.source, setting.name
        if setting.default is None:
            assert setting.nullable, setting.name
        elif setting.minimum is not None:
            assert setting.minimum <= setting.default <= setting.maximum, setting.name
        if setting.type is FieldType.CHOICE:
            assert setting.default in setting.choices, setting.name


def test_openapi_lists_every_calculator(api: Api) -> None:
    """Each calculator has its address, and one for pieces in hand where it can choose them."""
    paths = api.get("/openapi.json").body["paths"]
    for name, calculator in DECLARED.calculators.items():
        assert f"/v1/calculators/{name}" in paths
        assert (f"/v1/fits/{name}" in paths) == calculator.fits_pieces
