"""What the tests of the gasket plugin share: a builder of its calculator's inputs."""

from __future__ import annotations

import pytest

from sparewell_gaskets.calculator import GASKET_CALCULATOR
from support.inputs import InputsOf, exact_inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return exact_inputs_builder(GASKET_CALCULATOR)
