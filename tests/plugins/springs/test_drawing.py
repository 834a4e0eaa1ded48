"""The drawings of spring and bar are well-formed, to scale, self-contained and never endless."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest

from sparewell_springs import bar_calculator, drawing
from support.drawings import parsed, shapes

SPRINGS = (
    {"free_length": "16"},
    {"free_length": "5"},
    {},
    {"free_length": "16", "rod_diameter": "3.5", "bore_diameter": "5.5", "ends": "plain"},
    {"total_coils": "1000", "free_length": "800"},
    {"total_coils": "10.25", "ends": "squared"},
)
BARS = (
    {},
    {"tenon_length": "12", "bar_kind": "button_bar", "bar_width": "5"},
    {"barrel_depth": "900", "tenon_length": "0"},
)


def number(shape: ET.Element, name: str) -> Decimal:
    """Return one number of a shape."""
    return Decimal(shape.get(name))


@pytest.mark.parametrize("more", SPRINGS)
def test_spring_is_drawn_with_its_own_measures(spring_inputs, more) -> None:
    """Wires have their radius, the coil its outside diameter, the views their lengths."""
    values = {"wire_diameter": "0.5", "outside_diameter": "5", "total_coils": "10"}
    inputs = spring_inputs(**{**values, "ends": "squared_ground", **more})
    root = parsed(drawing.drawing(inputs))
    wires = shapes(root, "wire")
    assert wires
    assert len(wires) <= 2 * (2 * drawing.MOST_COILS + 1)
    assert {number(wire, "r") for wire in wires} == {Decimal("0.25")}
    rows = sorted({number(wire, "cy") for wire in wires})
    assert rows[1] - rows[0] == Decimal("4.5")
    if "total_coils" not in more and "free_length" in more:
        first = [number(wire, "cx") for wire in wires if number(wire, "cy") in rows[:2]]
        free = Decimal(more["free_length"])
        assert max(first) + Decimal("0.25") == max(free, Decimal(5))
        assert min(first) == Decimal("0.25")
    if "rod_diameter" in more:
        rods = shapes(root, "rod")
        assert {number(rod, "height") for rod in rods} == {Decimal("3.5")}


def test_closed_ends_lie_closed_and_the_solid_spring_everywhere(spring_inputs) -> None:
    """Free, the first two cuts touch and the next stand off; solid, all stand a wire apart."""
    inputs = spring_inputs(
        wire_diameter="0.5",
        outside_diameter="5",
        total_coils="10",
        ends="squared",
        free_length="16",
    )
    root = parsed(drawing.drawing(inputs))
    wires = shapes(root, "wire")
    rows = sorted({number(wire, "cy") for wire in wires})
    free, solid = (
        sorted(number(wire, "cx") for wire in wires if number(wire, "cy") == row)
        for row in (rows[0], rows[2])
    )
    steps = [after - before for before, after in pairwise(free)]
    # 16 free less 3 wires is 14.5 over 8 coils: 1.8125; both ends closed, a wire apart.
    assert steps[0] == steps[-1] == Decimal("0.5")
    assert set(steps[1:-1]) == {Decimal("1.8125")}
    assert {after - before for before, after in pairwise(solid)} == {Decimal("0.5")}


def test_many_coils_are_said_not_to_be_all(spring_inputs) -> None:
    """A thousand coils stay a page, and the drawing says what it leaves out."""
    document = drawing.drawing(
        spring_inputs(
            wire_diameter="0.5", outside_diameter="5", total_coils="1000", free_length="800"
        )
    )
    assert f"Only the first {drawing.MOST_COILS} coils are drawn" in document


@pytest.mark.parametrize("more", BARS)
def test_bar_is_drawn_in_its_barrel(bar_inputs, more) -> None:
    """Barrel, tenon and bar have their measures, and bar and tenon do not overlap."""
    inputs = bar_inputs(**{"barrel_depth": "62", "barrel_bore": "8", **more})
    result = bar_calculator.compute(inputs).result
    root = parsed(bar_calculator.drawing(inputs))
    (barrel,) = shapes(root, "barrel")
    (tenon,) = shapes(root, "tenon")
    (bar,) = shapes(root, "bar")
    assert number(barrel, "height") == 8
    assert number(bar, "width") * 1_000_000 == result["cut_length"]
    assert number(bar, "height") * 1_000_000 == result["width"]
    assert number(tenon, "width") <= number(bar, "x")
    assert number(bar, "x") + number(bar, "width") == number(barrel, "width")
