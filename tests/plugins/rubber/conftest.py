"""What the tests of the rubber plugin share: its calculator's inputs and answers."""

from __future__ import annotations

import pytest

from sparewell_rubber.calculator import SHELF_LIFE_CALCULATOR
from support.inputs import AnswerOf, InputsOf, answers_of, inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return inputs_builder(SHELF_LIFE_CALCULATOR)


@pytest.fixture(scope="session")
def answer_of() -> AnswerOf:
    """Return what the calculator answers to such inputs."""
    return answers_of(SHELF_LIFE_CALCULATOR)
