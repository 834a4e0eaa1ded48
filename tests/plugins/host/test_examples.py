"""The example that each hook shows in its docstring is a plugin that loads and answers."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable
from datetime import date
from importlib.metadata import EntryPoint
from pathlib import Path
from textwrap import dedent
from types import ModuleType
from typing import Any

import pytest

from sparewell.extend import hooks
from sparewell.extend.calculation import Run
from sparewell.extend.host import Declarations, load_declarations
from sparewell.plugin import Decision, Demand, Inputs, Piece, Verdict


def example_of(documented: Any) -> str:
    """Return the example at the end of a docstring."""
    words, _, example = inspect.getdoc(documented).partition("::\n\n")
    assert words
    assert example, documented
    return dedent(example)


@pytest.fixture
def bungs(
    entry_point: Callable[..., EntryPoint], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Declarations:
    """What the plugin declares that the examples make up."""
    functions = [each for _, each in inspect.getmembers(hooks.Hooks, inspect.isfunction)]
    in_order = sorted(functions, key=lambda each: each.__code__.co_firstlineno)
    module = ModuleType("bungs_of_the_examples")
    module.__file__ = str(tmp_path / "plugin.py")
    (tmp_path / "versions").mkdir()
    for documented in (hooks, *in_order):
        exec(example_of(documented), vars(module))  # noqa: S102 - our own docstring
    monkeypatch.setitem(sys.modules, module.__name__, module)
    return load_declarations([entry_point("bungs", module.__name__, "maker-of-bungs")])


def test_examples_are_a_plugin_with_every_hook(bungs: Declarations) -> None:
    """The host takes the examples in, and finds each hook implemented."""
    names = {name for name, _ in inspect.getmembers(hooks.Hooks, inspect.isfunction)}
    assert set(bungs.plugins[0].hooks) == names
    assert list(bungs.kinds) == ["bung"]
    assert list(bungs.filling_systems) == ["corked"]


def test_example_of_a_calculator_answers_and_chooses(bungs: Declarations) -> None:
    """A hole of 3 mm takes a bung of 3.2 mm; a thinner one than the hole is refused."""
    settings = {name: each.default for name, each in bungs.settings.items()}
    calculator = bungs.calculators["bung"]
    run = Run(bungs, calculator, {"hole": 3_000_000}, {}, settings, date(2026, 11, 29))
    assert run.calculate().result == {"outside_diameter": 3.2}
    assert run.envelope().ideal == 3_200_000
    for outside, verdict in ((3_200_000, Verdict.FITS), (2_900_000, Verdict.REFUSED)):
        dimensions, basis = {"outside_diameter": outside}, {"outside_diameter": "measured"}
        assert run.judge(Piece("bung", dimensions, basis)).verdict is verdict


def test_example_of_a_policy_decides(bungs: Declarations) -> None:
    """The policy keeps what the workshop chose, and orders ten above it."""
    demand = Demand((1, 2), 30, lead_days=21, review_days=7)
    inputs = Inputs({"least": 4}, spreads={}, settings={})
    decision = bungs.reorder_policies["ten_more"].decide(demand, inputs)
    assert decision == Decision(4, 14, "4 are kept, ten more are ordered")
