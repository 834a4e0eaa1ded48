"""What the tests of the caution plugin share: its calculator's inputs and answers."""

from __future__ import annotations

import pytest

from sparewell_cautions.calculator import FLUSH_MIX_CALCULATOR
from support.inputs import AnswerOf, InputsOf, answers_of, inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return inputs_builder(FLUSH_MIX_CALCULATOR)


@pytest.fixture(scope="session")
def answer_of() -> AnswerOf:
    """Return what the calculator answers to such inputs."""
    return answers_of(FLUSH_MIX_CALCULATOR)
