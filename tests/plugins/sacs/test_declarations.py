"""What the plugin declares fits the host: names, sources, shapes of results."""

from __future__ import annotations

import ast
from decimal import Decimal
from pathlib import Path

import pytest

import sparewell_sacs
from sparewell.measure.dimensions import DIMENSIONS, LEADING_DIMENSIONS
from sparewell.plugin import FieldType, Output, OutputType
from sparewell_sacs import plugin
from sparewell_sacs.calculator import SAC_CALCULATOR, SOURCES, compute
from sparewell_sacs.kind import SAC
from sparewell_sacs.settings import SETTINGS

CONTRACT = {
    "barrel_limit",
    "nipple_limit",
    "size",
    "half_size",
    "limited_by",
    "outcome",
    "stretch_percent",
    "over_nipple_diameter",
    "cut_length",
    "capacity_ml",
    "expected_fill_ml",
    "substitutes",
    "also_possible",
    "alternatives",
    "sensitivity",
    "working",
}

PENS = (
    {"barrel_bore": "8", "bar_height": "0.9", "nipple_diameter": "6.4", "barrel_depth": "62"},
    {"barrel_bore": "8", "nipple_diameter": "6.4", "barrel_depth": "62", "tenon_length": "12"},
    {"barrel_bore": "7", "nipple_diameter": "6.4", "bar_rule": "none"},
    {"barrel_bore": "7", "bar_height": "0.9", "nipple_diameter": "6.5"},
    {"barrel_bore": "10.2", "bar_height": "0.9", "nipple_diameter": "7"},
    {"barrel_bore": "2.2", "bar_height": "0.9", "nipple_diameter": "2"},
    {"barrel_bore": "12", "bar_height": "0.9", "nipple_diameter": "11", "clearance": "0"},
    {"guard_bore": "7.5", "nipple_diameter": "6", "material": "silicone"},
    {"barrel_bore": "9", "barrel_bore_tail": "7.8", "nipple_diameter": "6"},
    {"barrel_bore": "8", "nipple_diameter": "6.4", "try_in": Decimal(18)},
)


def check_member(output: Output, value: object) -> None:
    """Fail unless the value is what the output declares it to be."""
    if value is None:
        assert output.nullable, output.name
        return
    if output.type is OutputType.GROUP:
        assert set(value) == {member.name for member in output.members}, output.name
        for member in output.members:
            check_output(member, value[member.name])
        return
    types = {
        OutputType.LENGTH: int,
        OutputType.INTEGER: int,
        OutputType.NUMBER: Decimal,
        OutputType.TEXT: str,
        OutputType.FLAG: bool,
    }
    assert type(value) is types[output.type], output.name
    if output.choices:
        assert value in output.choices, output.name


def check_output(output: Output, value: object) -> None:
    """Fail unless the value, or each value of the list, is what the output declares."""
    if not output.many:
        check_member(output, value)
        return
    for one in value:
        check_member(output, one)


@pytest.mark.parametrize("pen", PENS)
def test_result_is_what_the_outputs_declare(inputs_of, pen) -> None:
    """Every member of every result is declared, with its type, its choices and its nulls."""
    result = compute(inputs_of(**pen)).result
    assert set(result) == {output.name for output in SAC_CALCULATOR.outputs}
    for output in SAC_CALCULATOR.outputs:
        check_output(output, result[output.name])


def test_contract_names_are_all_answered() -> None:
    """The members that others rely on are declared under their agreed names."""
    assert {output.name for output in SAC_CALCULATOR.outputs} >= CONTRACT


def test_every_member_has_a_help() -> None:
    """Inputs, outputs and nested members say in words what they are."""
    outputs = list(SAC_CALCULATOR.outputs)
    while outputs:
        output = outputs.pop()
        assert output.help, output.name
        outputs.extend(output.members)
    for field in SAC_CALCULATOR.inputs:
        assert field.title
        assert field.help or field.choices, field.name
        assert not field.measured or field.how, field.name


def test_every_setting_has_a_source_and_lies_within_its_bounds() -> None:
    """Settings start with the calculator's name, name their source, and default inside bounds."""
    for setting in SETTINGS:
        assert setting.name.startswith("sac.")
        assert setting.source
        if setting.minimum is not None:
            assert setting.minimum <= setting.default <= setting.maximum
        if setting.type is FieldType.CHOICE:
            assert setting.default in setting.choices
    names = [setting.name for setting in SETTINGS]
    assert len(names) == len(set(names))


def test_every_setting_is_used(inputs_of) -> None:
    """No setting stands idle: each is read by some answer, box or verdict."""
    read = set()
    for pen in PENS:
        inputs = inputs_of(**pen)
        compute(inputs)
        SAC_CALCULATOR.envelope(inputs)
        read |= set(inputs.settings_read)
    in_judge_only = {
        "sac.short_allowed",
        "sac.refuse_silicone_in_guard",
        "sac.bar_uncertainty",
    }
    assert {setting.name for setting in SETTINGS} - read <= in_judge_only


def test_kind_is_led_by_an_indexed_dimension() -> None:
    """The sac is looked up by its outside diameter, and all its dimensions are shared words."""
    assert SAC.led_by == "outside_diameter"
    assert SAC.led_by in LEADING_DIMENSIONS
    assert {dimension.name for dimension in SAC.dimensions} <= set(DIMENSIONS)
    assert SAC.materials == ("latex", "silicone", "pvc")
    assert SAC.counted_by == ("piece",)


def test_hooks_return_the_kind_and_the_calculator() -> None:
    """The plugin brings one kind and one calculator, which fits pieces of that kind."""
    assert list(plugin.part_kinds()) == [SAC]
    assert list(plugin.calculators()) == [SAC_CALCULATOR]
    assert SAC_CALCULATOR.kind == SAC.name
    assert SAC_CALCULATOR.fits_pieces
    assert all(SOURCES)


def test_plugin_imports_only_the_public_module() -> None:
    """Of the service, the plugin's modules import sparewell.plugin and nothing else."""
    for path in Path(sparewell_sacs.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module.split(".")[0] == "sparewell":
                assert node.module == "sparewell.plugin", path
            if isinstance(node, ast.Import):
                assert not any(name.name.startswith("sparewell") for name in node.names), path
