"""What the plugin declares fits the host: names, sources, settings in use, shapes of results."""

from __future__ import annotations

import pytest

from sparewell.extend import checks
from sparewell.extend.calculation import dump_result
from sparewell.plugin import Piece, parse_length
from sparewell_springs import plugin
from sparewell_springs.bar_calculator import PRESSURE_BAR_CALCULATOR
from sparewell_springs.calculator import SPRING_CALCULATOR

CALCULATORS = (SPRING_CALCULATOR, PRESSURE_BAR_CALCULATOR)
CONTRACT = {"rate_n_per_mm", "spring_index", "solid_length", "forces"}

SPRINGS = (
    {},
    {"free_length": "16", "working_length": "9", "rod_diameter": "3", "bore_diameter": "5.5"},
    {"free_length": "16", "working_length": "3", "material": "brass", "ends": "plain"},
    {"mean_diameter": "4.5"},
)
BARS = (
    {},
    {"tenon_length": "12", "bar_kind": "button_bar", "bar_width": "5", "bar_thickness": "0.5"},
    {"slot_width": "4.2"},
)


@pytest.mark.parametrize("calculator", CALCULATORS, ids=lambda each: each.name)
def test_declarations_are_what_the_host_accepts(calculator) -> None:
    """Calculators and kinds pass the host's own checks, and each fits pieces of its kind."""
    checks.check_calculator(calculator)
    kinds = {kind.name: kind for kind in plugin.part_kinds()}
    for kind in kinds.values():
        checks.check_kind(kind)
    assert calculator.fits_pieces
    assert calculator.kind in kinds
    assert list(plugin.calculators()) == list(CALCULATORS)


@pytest.mark.parametrize("more", SPRINGS)
def test_spring_result_is_what_the_outputs_declare(spring_inputs, more) -> None:
    """Every member of every result is declared, with its type, its choices and its nulls."""
    values = {"wire_diameter": "0.5", "outside_diameter": "5", "total_coils": "10", **more}
    result = SPRING_CALCULATOR.compute(spring_inputs(**values)).result
    assert dump_result(SPRING_CALCULATOR.outputs, result).keys() >= CONTRACT


@pytest.mark.parametrize("more", BARS)
def test_bar_result_is_what_the_outputs_declare(bar_inputs, more) -> None:
    """The same for the bar."""
    values = {"barrel_depth": "62", "barrel_bore": "8", **more}
    result = PRESSURE_BAR_CALCULATOR.compute(bar_inputs(**values)).result
    assert "cut_length" in dump_result(PRESSURE_BAR_CALCULATOR.outputs, result)


def test_every_setting_is_used(spring_inputs, bar_inputs) -> None:
    """No setting stands idle: each is read by some answer, box or verdict."""
    read = set()
    coil = {"wire_diameter": "0.5", "outside_diameter": "5", "total_coils": "10"}
    spring = Piece(
        "spring",
        {
            "outside_diameter": parse_length("5"),
            "wire_diameter": parse_length("0.5"),
            "length": parse_length("16"),
        },
        {},
        "steel",
    )
    bar = Piece("pressure_bar", {"width": 5_000_000, "length": 60_000_000}, {}, "steel")
    cases = [(SPRING_CALCULATOR, spring_inputs(**coil, **more), spring) for more in SPRINGS[:3]]
    cases.append(
        (SPRING_CALCULATOR, spring_inputs(**coil, mean_diameter="4.5", free_length="16"), spring)
    )
    cases += [
        (PRESSURE_BAR_CALCULATOR, bar_inputs(barrel_depth="62", barrel_bore="8", **more), bar)
        for more in BARS
    ]
    for calculator, inputs, piece in cases:
        calculator.compute(inputs)
        calculator.envelope(inputs)
        calculator.judge(inputs, piece)
        read |= set(inputs.settings_read)
    declared = {setting.name for each in CALCULATORS for setting in each.settings}
    assert declared == read


def test_a_pen_has_what_the_bar_needs() -> None:
    """The bar starts from readings that every sac-filled pen carries."""
    required = [field.name for field in PRESSURE_BAR_CALCULATOR.inputs if field.required]
    assert required == ["barrel_depth", "barrel_bore"]
    assert all(field.measured for field in PRESSURE_BAR_CALCULATOR.inputs if field.required)
