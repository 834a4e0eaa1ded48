"""Fixtures: plugins made up for one test, with entry points as installed distributions have them.

Each gets a `.dist-info` folder of its own, so that names and versions are read as they are for
real, and a module that exists in memory only.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from importlib.metadata import Distribution, EntryPoint
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from sparewell.extend.host import ENTRY_POINT_GROUP
from sparewell.plugin import hook

MakePlugin = Callable[..., EntryPoint]


@pytest.fixture
def entry_point(tmp_path: Path) -> MakePlugin:
    """Return a maker of entry points: the plugin's name, the module it names, its distribution."""

    def make(name: str, module: str, distribution: str) -> EntryPoint:
        folder = tmp_path / f"{distribution.replace('-', '_')}-1.2.dist-info"
        folder.mkdir()
        (folder / "METADATA").write_text(f"Name: {distribution}\nVersion: 1.2\n")
        (folder / "entry_points.txt").write_text(f"[{ENTRY_POINT_GROUP}]\n{name} = {module}\n")
        (point,) = Distribution.at(folder).entry_points
        return point

    return make


@pytest.fixture
def plugin(entry_point: MakePlugin, monkeypatch: pytest.MonkeyPatch) -> MakePlugin:
    """Return a maker of plugins: their name, and what each of their hooks returns."""

    def make(name: str, distribution: str | None = None, **returns: Any) -> EntryPoint:
        distribution = distribution or f"maker-of-{name}"
        module = ModuleType(f"plugin_of_{distribution.replace('-', '_')}")
        for hook_name, returned in returns.items():
            function = returned if callable(returned) else _returning(returned)
            setattr(module, hook_name, hook(function))
        monkeypatch.setitem(sys.modules, module.__name__, module)
        return entry_point(name, module.__name__, distribution)

    return make


def _returning(value: Any) -> Callable[[], Any]:
    return lambda: value
