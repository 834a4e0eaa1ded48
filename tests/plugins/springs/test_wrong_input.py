"""Springs and bars that cannot be: each is refused under the name of the input."""

from __future__ import annotations

import pytest

from sparewell.plugin import ImpossibleInput
from sparewell_springs import bar_calculator, calculator
from sparewell_springs.bar_fit import bar_envelope
from sparewell_springs.drawing import drawing
from sparewell_springs.fit import envelope

COIL = {"wire_diameter": "0.5", "outside_diameter": "5", "total_coils": "10"}
SOLID = {**COIL, "ends": "squared_ground"}  # 5 mm

SPRINGS = (
    ({**COIL, "outside_diameter": "1"}, ["outside_diameter"]),  # index 1
    ({**COIL, "outside_diameter": "0.9"}, ["outside_diameter"]),  # index 0.8
    ({**COIL, "outside_diameter": "0.5"}, ["wire_diameter"]),
    ({**COIL, "wire_diameter": "6"}, ["wire_diameter"]),
    ({"wire_diameter": "0.5", "mean_diameter": "0.5", "total_coils": "9"}, ["mean_diameter"]),
    ({"wire_diameter": "0.5", "total_coils": "9"}, ["outside_diameter"]),
    ({"wire_diameter": "0.5", "outside_diameter": "5"}, ["total_coils"]),
    ({**COIL, "total_coils": "2", "ends": "squared"}, ["total_coils"]),
    ({**COIL, "total_coils": "1", "ends": "plain_ground"}, ["total_coils"]),
    ({**COIL, "active_coils": "9", "ends": "squared"}, ["active_coils"]),
    ({**COIL, "active_coils": "11"}, ["active_coils"]),
    ({**COIL, "mean_diameter": "4.2"}, ["mean_diameter"]),
    ({**SOLID, "free_length": "4.99"}, ["free_length"]),
    ({**SOLID, "free_length": "16", "working_length": "16.1"}, ["working_length"]),
    ({**SOLID, "free_length": "16", "installed_length": "17"}, ["installed_length"]),
    ({**SOLID, "free_length": "16", "working_lengths": ["12", "17"]}, ["working_lengths"]),
    ({**SOLID, "working_length": "14", "installed_length": "12"}, ["working_length"]),
    ({**SOLID, "rod_diameter": "6", "bore_diameter": "6"}, ["rod_diameter"]),
    (
        {**SOLID, "free_length": "4", "rod_diameter": "6", "bore_diameter": "5"},
        ["free_length", "rod_diameter"],
    ),
)

BAR = {"barrel_depth": "62", "barrel_bore": "8"}

BARS = (
    ({**BAR, "bar_width": "8"}, ["bar_width"]),
    ({**BAR, "bar_thickness": "8"}, ["bar_thickness"]),
    ({**BAR, "slot_width": "9"}, ["slot_width"]),
    ({**BAR, "slot_width": "6"}, ["slot_width"]),
    ({**BAR, "bar_width": "0.5", "bar_thickness": "4.5"}, ["bar_thickness"]),
    ({**BAR, "bar_width": "3", "slot_width": "4.5"}, []),
    ({**BAR, "tenon_length": "62"}, ["tenon_length"]),
    ({**BAR, "tenon_length": "60"}, ["tenon_length"]),
    ({"barrel_depth": "11", "barrel_bore": "8"}, ["barrel_depth"]),
)


@pytest.mark.parametrize(("values", "culprits"), SPRINGS)
@pytest.mark.parametrize("ask", [calculator.compute, envelope, drawing])
def test_springs_that_cannot_be_are_refused(spring_inputs, ask, values, culprits) -> None:
    """Answer, box and drawing all refuse and name the inputs, each in a sentence."""
    with pytest.raises(ImpossibleInput) as refusal:
        ask(spring_inputs(**values))
    assert [name for name, _ in refusal.value.problems] == culprits
    assert all(sentence.endswith((".", "?")) for _, sentence in refusal.value.problems)


def test_index_of_one_is_named(spring_inputs) -> None:
    """The refusal says what the index is and what it must be."""
    with pytest.raises(ImpossibleInput, match="spring index of 1; it must be above 1"):
        calculator.compute(spring_inputs(**{**COIL, "outside_diameter": "1"}))


def test_nothing_is_too_short_by_a_nanometre_of_rounding(spring_inputs) -> None:
    """Exactly as long as the solid spring is possible, a nanometre less is not."""
    calculator.compute(spring_inputs(**SOLID, free_length=5_000_000))
    with pytest.raises(ImpossibleInput):
        calculator.compute(spring_inputs(**SOLID, free_length=4_999_999))


@pytest.mark.parametrize(("values", "culprits"), BARS)
@pytest.mark.parametrize("ask", [bar_calculator.compute, bar_envelope, bar_calculator.drawing])
def test_bars_that_cannot_be_are_refused(bar_inputs, ask, values, culprits) -> None:
    """What fills its bore, what leaves nothing, and what is swapped; the possible is answered."""
    if not culprits:
        assert ask(bar_inputs(**values))
        return
    with pytest.raises(ImpossibleInput) as refusal:
        ask(bar_inputs(**values))
    assert [name for name, _ in refusal.value.problems] == culprits
    assert all(sentence.endswith((".", "?")) for _, sentence in refusal.value.problems)
