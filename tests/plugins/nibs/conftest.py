"""What the tests of the nib plugin share: its calculator's inputs and answers."""

from __future__ import annotations

import pytest

from sparewell_nibs.calculator import LINE_WIDTH_CALCULATOR
from support.inputs import AnswerOf, InputsOf, answers_of, inputs_builder


@pytest.fixture(scope="session")
def inputs_of() -> InputsOf:
    """Return the builder of inputs."""
    return inputs_builder(LINE_WIDTH_CALCULATOR)


@pytest.fixture(scope="session")
def answer_of() -> AnswerOf:
    """Return what the calculator answers to such inputs."""
    return answers_of(LINE_WIDTH_CALCULATOR)
