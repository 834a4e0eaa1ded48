"""What the plugin declares fits the host: names, sources, shapes of results."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.extend.calculation import dump_result
from sparewell.measure.dimensions import DIMENSIONS, LEADING_DIMENSIONS
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


@pytest.mark.parametrize("pen", PENS)
def test_result_is_what_the_outputs_declare(inputs_of, pen) -> None:
    """Every member of every result is declared, with its type, its choices and its nulls."""
    result = compute(inputs_of(**pen)).result
    assert dump_result(SAC_CALCULATOR.outputs, result).keys() >= CONTRACT


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
