"""What the plugin declares fits the host: names, sources, settings in use, shapes of results."""

from __future__ import annotations

import pytest

from sparewell.extend import checks
from sparewell.extend.calculation import dump_result
from sparewell.plugin import ImpossibleInput, Piece, Verdict, parse_length
from sparewell_gaskets import plugin
from sparewell_gaskets.calculator import (
    CALCULATORS,
    GASKET_CALCULATOR,
    HEAD_WASHER_CALCULATOR,
    PACKING_CALCULATOR,
)
from sparewell_gaskets.inputs import READ_BY_MODE, WasherMode
from sparewell_gaskets.settings import SETTINGS

CASES = (
    {"bore": "6.5", "rod": "3", "seat_depth": "3"},
    {"bore": "6.5", "rod": "3", "material": "cork"},
    {"mode": "washer", "bore": "6.5", "rod": "2", "seat_depth": "0.8"},
    {"backing_washer": "8.2", "barrel_bore": "8.25"},
    {"outside_diameter": "8", "sheet_length": "90", "sheet_width": "40"},
)
CONTRACT = {"count_square", "count_staggered", "best", "waste_percent"}


@pytest.mark.parametrize("calculator", CALCULATORS, ids=lambda each: each.name)
def test_declarations_are_what_the_host_accepts(calculator) -> None:
    """Calculators, kind and table pass the host's own checks."""
    checks.check_calculator(calculator)
    for kind in plugin.part_kinds():
        checks.check_kind(kind)
    for table in plugin.size_tables():
        checks.check_size_table(table)


@pytest.mark.parametrize("case", CASES)
def test_result_is_what_the_outputs_declare(inputs_of, case) -> None:
    """Every member of every result is declared, with its type, its choices and its nulls."""
    result = GASKET_CALCULATOR.compute(inputs_of(**case)).result
    dumped = dump_result(GASKET_CALCULATOR.outputs, result)
    assert dumped.keys() >= CONTRACT


def test_every_setting_is_used(inputs_of) -> None:
    """No setting stands idle: each is read by some answer, box or verdict."""
    read = set()
    lot = Piece(
        "gasket",
        {"outside_diameter": parse_length("6.6"), "inside_diameter": parse_length("2.9")},
        {},
    )
    for case in CASES:
        inputs = inputs_of(**case)
        GASKET_CALCULATOR.compute(inputs)
        GASKET_CALCULATOR.envelope(inputs)
        GASKET_CALCULATOR.judge(inputs, lot)
        read |= set(inputs.settings_read)
    assert {setting.name for setting in SETTINGS} == read


def test_packing_and_head_washer_are_the_same_rule_for_one_case(inputs_of) -> None:
    """Asked with readings of both cases, each answers its own, and needs its readings by name."""
    both = inputs_of(bore="6.5", rod="3", backing_washer="8.2")
    with pytest.raises(ImpossibleInput):
        GASKET_CALCULATOR.compute(both)
    assert PACKING_CALCULATOR.compute(both).result["outside_diameter"] == parse_length("6.6")
    assert HEAD_WASHER_CALCULATOR.compute(both).result["outside_diameter"] == parse_length("8.3")
    assert PACKING_CALCULATOR.envelope(both).ideal == parse_length("6.6")
    assert HEAD_WASHER_CALCULATOR.envelope(both).ideal == parse_length("8.3")
    lot = Piece(
        "gasket",
        {"outside_diameter": parse_length("8.3"), "inside_diameter": parse_length("1.5")},
        {"outside_diameter": "measured"},
    )
    assert PACKING_CALCULATOR.judge(both, lot).verdict is Verdict.REFUSED
    assert HEAD_WASHER_CALCULATOR.judge(both, lot).verdict is Verdict.TRY_IN
    assert "8.3 mm outside" in HEAD_WASHER_CALCULATOR.drawing(both)
    required = {
        calculator.name: [field.name for field in calculator.inputs if field.required]
        for calculator in CALCULATORS
    }
    assert required == {
        "gasket": [],
        "packing": ["bore", "rod"],
        "head_washer": ["backing_washer"],
    }


def test_each_case_reads_inputs_that_exist() -> None:
    """What a case is said to read are inputs of the calculator, and every case is listed."""
    names = {field.name for field in GASKET_CALCULATOR.inputs}
    assert set(READ_BY_MODE) == set(WasherMode)
    for read in READ_BY_MODE.values():
        assert read <= names
