"""Inputs that cannot be true, and cases that cannot be told: each is refused under its name."""

from __future__ import annotations

import pytest

from sparewell.plugin import ImpossibleInput
from sparewell_gaskets.calculator import compute
from sparewell_gaskets.drawing import drawing
from sparewell_gaskets.fit import envelope

SHEET = {"sheet_length": "100", "sheet_width": "50"}

IMPOSSIBLE = (
    ({}, "mode"),
    ({"rod": "3"}, "bore"),
    ({"bore": "3", "rod": "6.5"}, "rod"),
    ({"bore": "3", "rod": "3"}, "rod"),
    ({"mode": "packing", "bore": "6"}, "rod"),
    ({"mode": "washer", "bore": "3", "rod": "2.9"}, "rod"),
    ({"mode": "washer", "bore": "0.1"}, "bore"),
    ({"mode": "head_washer", "bore": "6", "rod": "3"}, "backing_washer"),
    ({"mode": "sheet", "bore": "6", "rod": "3", **SHEET}, "outside_diameter"),
    ({"backing_washer": "8.2", "rod": "3"}, "mode"),
    ({"backing_washer": "8.2", "bore": "6", "rod": "3"}, "mode"),
    ({"backing_washer": "8.2", "barrel_bore": "8.2"}, "backing_washer"),
    ({"backing_washer": "8.2", "head_stem": "8.2"}, "head_stem"),
    ({"backing_washer": "8.2", "head_stem": "0.1"}, "head_stem"),
    ({"backing_washer": "1.5"}, "backing_washer"),
    ({"bore": "6", "rod": "0.1", "material": "cork"}, "rod"),
    ({"outside_diameter": "2", "inside_diameter": "8", **SHEET}, "inside_diameter"),
    ({"outside_diameter": "8", "inside_diameter": "8", **SHEET}, "inside_diameter"),
    ({"outside_diameter": "8"}, "sheet_length"),
    ({"outside_diameter": "8", "sheet_length": "100"}, "sheet_width"),
    ({"outside_diameter": "8", "sheet_width": "100"}, "sheet_length"),
    ({"bore": "6", "rod": "3", "sheet_length": "100"}, "sheet_width"),
    ({"outside_diameter": "8", **SHEET, "sheet_edge": "25"}, "sheet_edge"),
)


@pytest.mark.parametrize(("values", "culprit"), IMPOSSIBLE)
@pytest.mark.parametrize("ask", [compute, envelope, drawing])
def test_what_cannot_be_is_refused_under_its_name(inputs_of, ask, values, culprit) -> None:
    """Answer, box and drawing all refuse, name the input, and end with a full stop or a query."""
    with pytest.raises(ImpossibleInput) as refusal:
        ask(inputs_of(**values))
    names = [name for name, _ in refusal.value.problems]
    assert names == [culprit]
    assert all(sentence.endswith((".", "?")) for _, sentence in refusal.value.problems)


def test_swapped_inside_and_outside_are_asked_about(inputs_of) -> None:
    """The refusal asks whether the two were swapped."""
    with pytest.raises(ImpossibleInput, match="swapped"):
        compute(inputs_of(outside_diameter="2", inside_diameter="8", **SHEET))
