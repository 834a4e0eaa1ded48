"""Loading plugins: what stops the start, whom the sentence names, and in which order things come.

A plugin here is made up for one test; `conftest.py` shows how.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from sqlalchemy import Column, MetaData, String, Table

from sparewell.app.declarations import core_declarations
from sparewell.configuration import read_configuration
from sparewell.extend.declarations import THRESHOLD_COLUMNS
from sparewell.extend.host import (
    installed_entry_points,
    load_declarations,
)
from sparewell.plugin import (
    CautionRule,
    FillingSystem,
    PartKind,
    PluginTables,
    TemplateNeed,
    hook,
)
from support.declared import HALVE, WASHER, refusal

MakePlugin = Callable[..., EntryPoint]


def keeper(name: str, folder: Path) -> PluginTables:
    """Return tables of a plugin, among them one in which thresholds are kept."""
    columns = [Column(each, String(40)) for each in THRESHOLD_COLUMNS]
    table = Table(f"{name}_threshold", MetaData(), *columns)
    return PluginTables(name, table.metadata, folder, thresholds=table)


def _no_kinds() -> list[PartKind]:
    return []


def test_what_a_plugin_declares_is_collected_under_its_name(plugin: MakePlugin) -> None:
    """A plugin's declarations are found by name, with the plugin, its distribution and hooks."""
    declared = load_declarations([plugin("rings", part_kinds=[WASHER], calculators=[HALVE])])
    assert declared.kinds == {"washer": WASHER}
    assert declared.plugin_of("halve") == "rings"
    (record,) = declared.plugins
    assert (record.name, record.distribution, record.version) == ("rings", "maker-of-rings", "1.2")
    assert (record.state, record.hooks) == ("loaded", ("calculators", "part_kinds"))


def test_results_come_by_name_whatever_the_order_of_plugins(plugin: MakePlugin) -> None:
    """Two plugins loaded in either order give the same declarations in the same order."""
    one = plugin("alpha", part_kinds=[replace(WASHER, name="zinc"), replace(WASHER, name="brass")])
    other = plugin("omega", part_kinds=[replace(WASHER, name="cork")])
    forwards, backwards = load_declarations([one, other]), load_declarations([other, one])
    assert list(forwards.kinds) == list(backwards.kinds) == ["brass", "cork", "zinc"]
    assert forwards.kinds == backwards.kinds


def test_bundled_declarations_are_sorted_by_name() -> None:
    """Everything the bundled plugins declare is listed in the order of its names."""
    declared = core_declarations()
    for found in (
        declared.kinds,
        declared.calculators,
        declared.filling_systems,
        declared.ageing_rules,
        declared.caution_rules,
        declared.settings,
    ):
        assert found
        assert list(found) == sorted(found)


@pytest.mark.parametrize(
    ("hook_name", "items"),
    [
        ("part_kinds", [WASHER]),
        ("calculators", [HALVE]),
        ("filling_systems", [FillingSystem("x", "x", (TemplateNeed("sac", "x"),), (), (), (), ())]),
        ("caution_rules", [CautionRule("x", "take care", "common practice, no source")]),
    ],
)
def test_clash_of_two_plugins_names_both_distributions(
    plugin: MakePlugin, hook_name: str, items: list[Any]
) -> None:
    """Two plugins that declare one name stop the start, and both are named, in either order."""
    one, other = plugin("alpha", **{hook_name: items}), plugin("omega", **{hook_name: items})
    for points in ((one, other), (other, one)):
        sentence = refusal(*points)
        assert f"{hook_name} {items[0].name!r} is declared twice" in sentence
        for name in ("alpha", "omega"):
            assert f"plugin {name!r} of distribution maker-of-{name} 1.2" in sentence


def test_thresholds_are_kept_in_one_table(plugin: MakePlugin, tmp_path: Path) -> None:
    """A second table of thresholds stops the start, and both plugins are named."""
    first, second = keeper("alpha", tmp_path), keeper("omega", tmp_path)
    one, other = plugin("alpha", tables=[first]), plugin("omega", tables=[second])
    assert load_declarations([one]).threshold_table is first.thresholds
    assert load_declarations([]).threshold_table is None
    for points in ((one, other), (other, one)):
        sentence = refusal(*points)
        assert "plugin 'omega' of distribution maker-of-omega 1.2" in sentence
        assert "beside those of plugin 'alpha': a part has one" in sentence


def test_table_that_cannot_hold_thresholds_is_refused(plugin: MakePlugin, tmp_path: Path) -> None:
    """A table of thresholds without its columns, or of other tables, stops the start."""
    kept = keeper("rings", tmp_path)
    bare = Table("rings_bare", kept.metadata, Column("id", String(40)))
    for table, told in (
        (bare, "table 'rings_bare' lacks part_id, policy"),
        (keeper("rings", tmp_path).thresholds, "is not among the plugin's tables"),
    ):
        assert told in refusal(
            plugin("rings", f"of-{table.name}", tables=[replace(kept, thresholds=table)])
        )


def test_one_name_in_two_hooks_is_no_clash(plugin: MakePlugin) -> None:
    """A kind and a calculator may share a name, as the sac and its calculator do."""
    halve = replace(HALVE, name="washer")
    declared = load_declarations([plugin("rings", part_kinds=[WASHER], calculators=[halve])])
    assert set(declared.kinds) == set(declared.calculators) == {"washer"}


def test_two_plugins_of_one_name_are_refused_naming_both_distributions(plugin: MakePlugin) -> None:
    """Two distributions whose plugins are called the same stop the start; both are named."""
    one = plugin("rings", "first-maker", part_kinds=[])
    other = plugin("rings", "second-maker", part_kinds=[])
    sentence = refusal(one, other)
    assert "two plugins are called 'rings'" in sentence
    assert "first-maker 1.2" in sentence
    assert "second-maker 1.2" in sentence
    assert "SPAREWELL_SKIP_PLUGINS=rings" in sentence
    skipped = load_declarations([one, other], skip=frozenset({"rings"}))
    assert [record.state for record in skipped.plugins] == ["skipped", "skipped"]


def test_plugin_that_implements_no_hook_is_refused(plugin: MakePlugin) -> None:
    """A module without any hook is a slip of its author, and is named."""
    assert "it implements no hook" in refusal(plugin("idle"))


def test_hook_without_its_mark_is_refused(
    entry_point: MakePlugin, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hook whose author forgot the mark would be passed over in silence; it is refused."""
    module = ModuleType("unmarked_plugin")
    module.part_kinds = _no_kinds
    monkeypatch.setitem(sys.modules, "unmarked_plugin", module)
    sentence = refusal(entry_point("rings", "unmarked_plugin", "maker-of-rings"))
    assert "part_kinds is not marked with @hook" in sentence


def test_unknown_hook_is_refused_naming_the_plugin(plugin: MakePlugin) -> None:
    """A hook that the service does not have, such as a misspelt one, stops the start."""
    sentence = refusal(plugin("rings", part_kindz=[]))
    assert "plugin 'rings' of distribution maker-of-rings 1.2" in sentence
    assert "part_kindz" in sentence


def test_unknown_argument_is_refused_naming_the_plugin(plugin: MakePlugin) -> None:
    """A hook that asks for an argument it is not given stops the start."""
    sentence = refusal(plugin("rings", part_kinds=lambda catalogue: [catalogue]))
    assert "plugin 'rings' of distribution maker-of-rings 1.2" in sentence
    assert "catalogue" in sentence


def test_module_that_is_not_there_is_refused_with_the_way_out(entry_point: MakePlugin) -> None:
    """A plugin whose module is missing is named with its distribution, the cause and a way out."""
    sentence = refusal(entry_point("rings", "module_that_is_not_there", "maker-of-rings"))
    assert "plugin 'rings' of distribution maker-of-rings 1.2" in sentence
    assert "ModuleNotFoundError: No module named 'module_that_is_not_there'" in sentence
    assert "SPAREWELL_SKIP_PLUGINS=rings" in sentence


@pytest.mark.parametrize(
    ("source", "cause"),
    [
        ("def broken(:\n", "SyntaxError"),
        ("raise ValueError('no lathe here')\n", "ValueError: no lathe here"),
        ("from sparewell.plugin import Lathe\n", "ImportError: cannot import name 'Lathe'"),
    ],
)
def test_broken_import_is_refused_with_its_cause(
    entry_point: MakePlugin,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    source: str,
    cause: str,
) -> None:
    """Whatever goes wrong in the import, the plugin is named and the cause is shown."""
    (tmp_path / "broken_plugin_of_a_test.py").write_text(source)
    monkeypatch.syspath_prepend(str(tmp_path))
    point = entry_point("rings", "broken_plugin_of_a_test", "maker-of-rings")
    sentence = refusal(point)
    sys.modules.pop("broken_plugin_of_a_test", None)
    assert "plugin 'rings' of distribution maker-of-rings 1.2" in sentence
    assert cause in sentence
    assert load_declarations([point], skip=frozenset({"rings"})).plugins[0].state == "skipped"


def test_skipped_plugin_is_noted_and_not_even_imported(
    plugin: MakePlugin, entry_point: MakePlugin
) -> None:
    """A plugin skipped by name is listed as skipped, and the others are loaded."""
    broken = entry_point("broken", "module_that_is_not_there", "maker-of-broken")
    declared = load_declarations(
        [broken, plugin("rings", part_kinds=[WASHER])], skip=frozenset({"broken"})
    )
    assert [(record.name, record.state) for record in declared.plugins] == [
        ("broken", "skipped"),
        ("rings", "loaded"),
    ]
    assert list(declared.kinds) == ["washer"]


def test_skipped_names_are_read_from_the_environment() -> None:
    """The variable holds names with commas between them; spaces and empty places are nothing."""
    read = read_configuration({"SPAREWELL_SKIP_PLUGINS": " rings, Sacs,,"})
    assert read.skip_plugins == {"rings", "Sacs"}
    assert read_configuration({}).skip_plugins == frozenset()


def test_hook_that_raises_is_refused_with_its_cause(plugin: MakePlugin) -> None:
    """A hook that raises stops the start, and plugin, hook, cause and way out are named."""

    def part_kinds() -> list[PartKind]:
        raise LookupError("the drawing is lost")

    sentence = refusal(plugin("rings", part_kinds=part_kinds))
    assert "plugin 'rings' of distribution maker-of-rings 1.2 failed in part_kinds" in sentence
    assert "LookupError: the drawing is lost" in sentence
    assert "SPAREWELL_SKIP_PLUGINS=rings" in sentence


@pytest.mark.parametrize(
    ("returned", "told"),
    [
        (None, "'NoneType' object is not iterable"),
        (WASHER, "'PartKind' object is not iterable"),
        ([{"name": "washer"}], "expected PartKind, got dict"),
        ([HALVE], "expected PartKind, got Calculator"),
        ({"washer": WASHER}, "expected PartKind, got str"),
    ],
)
def test_wrong_return_type_is_refused_naming_the_plugin(
    plugin: MakePlugin, returned: object, told: str
) -> None:
    """A hook that returns anything but a sequence of its declarations stops the start."""
    sentence = refusal(plugin("rings", part_kinds=lambda: returned))
    assert "plugin 'rings' of distribution maker-of-rings 1.2" in sentence
    assert told in sentence


def test_plugin_of_no_distribution_is_still_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry point that belongs to no distribution is named by its plugin."""
    module = ModuleType("homeless_plugin")
    module.part_kinds = hook(_no_kinds)
    monkeypatch.setitem(sys.modules, "homeless_plugin", module)
    declared = load_declarations([EntryPoint("rings", "homeless_plugin", "sparewell.plugins")])
    assert (declared.plugins[0].name, declared.plugins[0].distribution) == ("rings", "")


def test_bundled_plugins_are_found_through_entry_points_only() -> None:
    """With no entry point nothing is declared: there is no built-in list."""
    assert load_declarations([]).kinds == {}
    names = [point.name for point in installed_entry_points()]
    assert "sacs" in names
    assert names == sorted(names)
