"""What the tests of the O-ring plugin share: inputs and answers of its two calculators, a pen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from sparewell_o_rings.calculator import O_RING_CALCULATOR
from sparewell_o_rings.identity import RING_IDENTITY_CALCULATOR
from support.inputs import InputsOf, exact_inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs of `o_ring`."""
    return exact_inputs_builder(O_RING_CALCULATOR)


@pytest.fixture(scope="session")
def identity_of() -> Callable[..., Sequence[Mapping[str, Any]]]:
    """Return a function that asks `ring_identity` and returns its sizes."""
    build = exact_inputs_builder(RING_IDENTITY_CALCULATOR)

    def ask(**values: Any) -> Sequence[Mapping[str, Any]]:
        return RING_IDENTITY_CALCULATOR.compute(build(**values)).result["sizes"]

    return ask


@pytest.fixture(scope="session")
def result_of(inputs_of: InputsOf) -> Callable[..., Mapping[str, Any]]:
    """Return a function that asks `o_ring` and returns its result."""

    def ask(**values: Any) -> Mapping[str, Any]:
        return O_RING_CALCULATOR.compute(inputs_of(**values)).result

    return ask


@pytest.fixture(scope="session")
def piston() -> Mapping[str, str]:
    """Return a piston at rest in a bore of 7.6 mm, with a groove of 4.6 mm."""
    return {
        "gland": "piston",
        "bore": "7.6",
        "groove_diameter": "4.6",
        "groove_width": "2.4",
        "duty": "static",
    }
