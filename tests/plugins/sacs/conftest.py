"""What the tests of the sac plugin share: a builder of its calculator's inputs, and a pen."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from sparewell_sacs.calculator import SAC_CALCULATOR
from support.inputs import InputsOf, exact_inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return exact_inputs_builder(SAC_CALCULATOR)


@pytest.fixture(scope="session")
def sample() -> Mapping[str, str]:
    """Return the readings of the usual lever pen."""
    return {
        "barrel_bore": "8.0 mm",
        "bar_height": "0.9 mm",
        "nipple_diameter": "6.4 mm",
        "barrel_depth": "62 mm",
    }
