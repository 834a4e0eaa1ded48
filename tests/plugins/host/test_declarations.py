"""Declarations that are refused when the service is put together, naming the plugin.

A plugin here is made up for one test; `conftest.py` shows how.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Column, Integer, MetaData, Table

from sparewell.extend.host import load_declarations
from sparewell.plugin import (
    Calculator,
    Decision,
    Field,
    FieldType,
    FillingSystem,
    KindDimension,
    MarginScale,
    Output,
    OutputType,
    PartKind,
    PluginTables,
    ReorderPolicy,
    Setting,
    TemplateNeed,
)
from support.declared import HALVE, WASHER, refusal

MakePlugin = Callable[..., EntryPoint]

SQUEEZE = Setting("halve.squeeze", "squeeze", FieldType.LENGTH, 1000, "common practice, no source")
LIKE = Setting("halve.like", "like", FieldType.CHOICE, "a", "nobody", choices=("a",))


def scaled(scale: MarginScale) -> Calculator:
    """Return a calculator with two settings and a scale."""
    return replace(HALVE, settings=(SQUEEZE, LIKE), scales=(scale,))


def table_of(name: str) -> MetaData:
    """Return MetaData with one table of this name."""
    metadata = MetaData()
    Table(name, metadata, Column("id", Integer, primary_key=True))
    return metadata


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        (replace(WASHER, dimensions=(KindDimension("girth"),)), "'girth' is not a dimension"),
        (
            PartKind("wire", "wire", (KindDimension("wire_diameter"),), "wire_diameter"),
            "led_by 'wire_diameter' must be one of its dimensions and one of outside_diameter",
        ),
        (replace(WASHER, led_by="inside_diameter"), "led_by 'inside_diameter' must be one of"),
        (replace(WASHER, name="Washer"), "'Washer' is not a name"),
        (replace(WASHER, name="ring/washer"), "'ring/washer' is not a name"),
    ],
)
def test_kind_that_cannot_be_kept_is_refused(plugin: MakePlugin, kind: PartKind, told: str) -> None:
    """A kind outside the vocabulary, led by nothing indexed, or without a name stops the start."""
    sentence = refusal(plugin("rings", part_kinds=[kind]))
    assert "plugin 'rings' of distribution maker-of-rings 1.2, part_kinds" in sentence
    assert told in sentence


@pytest.mark.parametrize(
    ("calculator", "told"),
    [
        (replace(HALVE, sources=()), "names no source"),
        (
            replace(HALVE, settings=(replace(SQUEEZE, source=""),)),
            "'halve.squeeze' names no source",
        ),
        (replace(HALVE, settings=(replace(SQUEEZE, name="squeeze"),)), "must be <owner>.<name>"),
        (replace(HALVE, inputs=(Field("way", "way", FieldType.CHOICE),)), "has no choices"),
        (replace(HALVE, inputs=(Field("Whole", "whole"),)), "'Whole' is not a name"),
        (replace(HALVE, outputs=(Output("half", OutputType.GROUP),)), "a group, and only a group"),
        (replace(HALVE, envelope=lambda _inputs: None), "come together or not at all"),
        (
            replace(HALVE, envelope=lambda _inputs: None, judge=lambda _inputs, _piece: None),
            "an envelope needs a kind",
        ),
        (scaled(MarginScale("room", ("halve.no",), low="halve.no")), "none of its settings"),
        (scaled(MarginScale("room", (LIKE.name,), low=LIKE.name)), "which is no number"),
        (scaled(MarginScale("room", (SQUEEZE.name,))), "must name its low or high end"),
        (scaled(MarginScale("room", (), high=SQUEEZE.name)), "must name its low or high end"),
        (
            scaled(MarginScale("room", (SQUEEZE.name,), SQUEEZE.name, given={"duty": "moving"})),
            "'duty', which is none of its inputs",
        ),
        (
            scaled(MarginScale("room", (SQUEEZE.name,), SQUEEZE.name, while_set={"o.x": "y"})),
            "'o.x', which is none of its settings",
        ),
    ],
)
def test_calculator_whose_parts_do_not_belong_together_is_refused(
    plugin: MakePlugin, calculator: Calculator, told: str
) -> None:
    """A calculator without source, or with parts that cannot work, stops the start."""
    sentence = refusal(plugin("rings", calculators=[calculator]))
    assert "plugin 'rings' of distribution maker-of-rings 1.2, calculators" in sentence
    assert told in sentence


def test_calculator_of_a_kind_nobody_declares_is_refused(plugin: MakePlugin) -> None:
    """A calculator for a kind that no loaded plugin declares stops the start, naming both."""
    sentence = refusal(plugin("rings", calculators=[replace(HALVE, kind="washer")]))
    assert "calculator 'halve'" in sentence
    assert "'washer', a kind no loaded plugin declares" in sentence


def test_template_may_want_the_calculator_of_a_skipped_plugin(plugin: MakePlugin) -> None:
    """Skipping the plugin that sizes a need does not stop the start: the plan will say so."""
    needs = (TemplateNeed("washer", "somewhere", calculator="halve"),)
    system = FillingSystem("pump", "pump", needs, (), (), (), ())
    points = [plugin("rings", filling_systems=[system]), plugin("halver", calculators=[HALVE])]
    declared = load_declarations(points, skip=frozenset({"halver"}))
    assert list(declared.filling_systems) == ["pump"]
    assert declared.calculators == {}


def test_filling_system_of_a_calculator_nobody_declares_is_refused(plugin: MakePlugin) -> None:
    """A template that wants a calculator no loaded plugin declares stops the start."""
    needs = (TemplateNeed("washer", "somewhere", calculator="halve"),)
    system = FillingSystem("pump", "pump", needs, (), (), (), ())
    sentence = refusal(plugin("rings", filling_systems=[system]))
    assert "'pump' wants 'halve', a calculator no loaded plugin declares" in sentence


def test_setting_declared_twice_differently_is_refused(plugin: MakePlugin) -> None:
    """One setting with two defaults stops the start; declared alike it may be shared."""
    one = plugin("alpha", calculators=[replace(HALVE, settings=(SQUEEZE,))])
    alike = plugin("beta", calculators=[replace(HALVE, name="third", settings=(SQUEEZE,))])
    other = replace(HALVE, name="fourth", settings=(replace(SQUEEZE, default=2000),))
    assert list(load_declarations([one, alike]).settings) == ["halve.squeeze"]
    sentence = refusal(one, plugin("omega", calculators=[other]))
    assert "setting 'halve.squeeze' is declared twice" in sentence


def test_clash_of_settings_names_both_distributions(plugin: MakePlugin) -> None:
    """A setting declared twice, differently, is refused naming both distributions."""
    one = plugin("alpha", calculators=[replace(HALVE, settings=(SQUEEZE,))])
    changed = replace(SQUEEZE, default=2000)
    other = replace(HALVE, name="third", settings=(changed,))
    sentence = refusal(one, plugin("omega", calculators=[other]))
    assert "maker-of-alpha" in sentence
    assert "maker-of-omega" in sentence


@pytest.mark.parametrize(
    "declared",
    [
        {"calculators": [replace(HALVE, kind="washer")]},
        {
            "filling_systems": [
                FillingSystem("x", "x", (TemplateNeed("sac", "x", 1, "halve"),), (), (), (), ())
            ]
        },
    ],
    ids=["kind of a calculator", "calculator of a filling system"],
)
def test_reference_that_leads_nowhere_names_the_plugin(
    plugin: MakePlugin, declared: dict[str, Any]
) -> None:
    """Whose declaration asks for what nobody declares is named with its distribution."""
    assert "maker-of-rings" in refusal(plugin("rings", **declared))


LIMIT = Field("limit", "limit", required=True)
CROSSED = (2000, 1000)
FITTING = replace(
    HALVE, kind="washer", envelope=lambda _inputs: None, judge=lambda _inputs, _piece: None
)


@pytest.mark.parametrize(
    "declared",
    [
        {"calculators": [replace(FITTING, inputs=(LIMIT,))]},
        {"calculators": [replace(HALVE, inputs=(*HALVE.inputs, *HALVE.inputs))]},
        {"calculators": [replace(HALVE, outputs=(*HALVE.outputs, *HALVE.outputs))]},
        {"calculators": [replace(HALVE, inputs=(Field("whole", "whole", plausible=CROSSED),))]},
        {"calculators": [replace(HALVE, settings=(replace(SQUEEZE, default=Decimal("0.02")),))]},
        {"calculators": [replace(HALVE, settings=(replace(SQUEEZE, minimum=2000),))]},
        {"part_kinds": [replace(WASHER, dimensions=(KindDimension(WASHER.led_by, CROSSED),))]},
        {"part_kinds": [replace(WASHER, dimensions=WASHER.dimensions * 2)]},
    ],
    ids=[
        "an input called like a member of every fit",
        "an input twice",
        "an output twice",
        "usual bounds of an input crossed",
        "a default that is not of the setting's type",
        "a default below the setting's minimum",
        "usual bounds of a dimension crossed",
        "a dimension twice",
    ],
)
def test_declaration_that_would_fail_in_use_is_refused_at_the_start(
    plugin: MakePlugin, declared: dict[str, Any]
) -> None:
    """A slip that would answer 500 or 502 later, or lose an input, stops the start instead."""
    kinds = {"part_kinds": [WASHER]} | declared
    assert "maker-of-rings" in refusal(plugin("rings", **kinds))


def test_a_policy_asks_first_for_what_it_takes(plugin: MakePlugin) -> None:
    """The one parameter that a form asks for must be among those of the policy."""
    whim = ReorderPolicy(
        name="whim",
        title="As one likes",
        help="",
        parameters=(Field("pieces", "pieces", FieldType.INTEGER),),
        decide=lambda *_: Decision(1, 2, "on a whim"),
        sources=("common practice, no source",),
        asks_first="pieces",
    )
    assert load_declarations([plugin("whims", reorder_policies=[whim])]).reorder_policies
    sentence = refusal(plugin("moods", reorder_policies=[replace(whim, asks_first="moods")]))
    assert "asks first for 'moods'" in sentence


def test_table_without_the_plugins_name_is_refused(plugin: MakePlugin, tmp_path: Path) -> None:
    """A plugin's table must begin with the plugin's name, so that none takes another's."""
    owned = PluginTables("rings", table_of("rings_bag"), tmp_path)
    assert load_declarations([plugin("rings", tables=[owned])]).tables == {"rings": owned}
    sentence = refusal(
        plugin("ring_thief", tables=[PluginTables("rings", table_of("lot"), tmp_path)])
    )
    assert "plugin 'ring_thief' of distribution maker-of-ring_thief 1.2, tables" in sentence
    assert "table 'lot' must be called rings_..." in sentence


def test_tables_without_a_revisions_folder_are_refused(plugin: MakePlugin, tmp_path: Path) -> None:
    """A lineage whose folder is not there stops the start, naming the folder."""
    gone = tmp_path / "gone"
    sentence = refusal(plugin("rings", tables=[PluginTables("rings", table_of("rings_bag"), gone)]))
    assert f"the revisions folder {gone} does not exist" in sentence
