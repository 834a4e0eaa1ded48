"""What the tests of the fill plugin share: its calculator's inputs and answers."""

from __future__ import annotations

import pytest

from sparewell_fills.calculator import FILL_CALCULATOR
from support.inputs import AnswerOf, InputsOf, answers_of, inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return inputs_builder(FILL_CALCULATOR)


@pytest.fixture(scope="session")
def answer_of() -> AnswerOf:
    """Return what the calculator answers to such inputs."""
    return answers_of(FILL_CALCULATOR)
