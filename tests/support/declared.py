"""A made-up kind and calculator for tests of the plugin host, and how a start is refused."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from typing import Any

import pytest

from sparewell.extend.host import PluginError, load_declarations
from sparewell.plugin import (
    COMMON_PRACTICE,
    Answer,
    Calculator,
    Field,
    KindDimension,
    Output,
    OutputType,
    PartKind,
)

WASHER = PartKind("washer", "washer", (KindDimension("outside_diameter"),), "outside_diameter")
HALVE = Calculator(
    name="halve",
    title="Half",
    help="Half of a length.",
    inputs=(Field("whole", "the whole", required=True),),
    outputs=(Output("half", OutputType.LENGTH),),
    compute=lambda inputs: Answer({"half": (inputs.length("whole") or 0) // 2}),
    sources=(COMMON_PRACTICE,),
)


def refusal(*points: EntryPoint, **options: Any) -> str:
    """Return the sentence with which the start is refused."""
    with pytest.raises(PluginError) as refused:
        load_declarations(points, **options)
    return str(refused.value)
