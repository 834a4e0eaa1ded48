"""What the tests of the spring plugin share: builders of inputs, a spring, exact numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

import pytest

from sparewell_springs.bar_calculator import PRESSURE_BAR_CALCULATOR
from sparewell_springs.calculator import SPRING_CALCULATOR
from support.inputs import InputsOf, exact_inputs_builder


@pytest.fixture(scope="session")
def spring_inputs() -> InputsOf:
    """Return the builder of a spring's inputs."""
    return exact_inputs_builder(SPRING_CALCULATOR)


@pytest.fixture(scope="session")
def bar_inputs() -> InputsOf:
    """Return the builder of a bar's inputs."""
    return exact_inputs_builder(PRESSURE_BAR_CALCULATOR)


@pytest.fixture(scope="session")
def pen_spring() -> Mapping[str, Any]:
    """Return the readings of a spring as pens have them."""
    return {
        "wire_diameter": "0.5",
        "outside_diameter": "5.0",
        "total_coils": "10",
        "ends": "squared_ground",
        "free_length": "16",
        "material": "music_wire",
    }


@pytest.fixture(scope="session")
def exact() -> Callable[[object], Fraction]:
    """Return the exact value of a number of a result."""
    return lambda number: Fraction(str(number))
