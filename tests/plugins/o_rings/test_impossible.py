"""Inputs that cannot be true are refused, each under its own name."""

from __future__ import annotations

import pytest

from sparewell.plugin import ImpossibleInput
from sparewell_o_rings.calculator import compute
from sparewell_o_rings.drawing import drawing
from sparewell_o_rings.fit import envelope

PISTON = {"gland": "piston", "bore": "7.6", "groove_diameter": "4.6", "duty": "static"}
ROD = {"gland": "rod", "bore": "5.9", "rod": "3", "duty": "moving"}
FACE = {"gland": "face", "groove_diameter": "8", "groove_depth": "1.4"}
RING = {"inside_diameter": "4.47", "cross_section": "1.78"}


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ({}, ["gland"]),
        ({"gland": "piston"}, ["groove_diameter", "bore"]),
        ({"gland": "piston", "rod": "3", "bore": "6"}, ["groove_diameter"]),
        ({"gland": "rod", "bore": "6", "groove_diameter": "3"}, ["rod"]),
        ({"gland": "face", "groove_diameter": "8"}, ["groove_depth"]),
        ({**PISTON, "bore": "4.6", "groove_diameter": "7.6"}, ["groove_diameter"]),
        ({**PISTON, "groove_diameter": "7.6"}, ["groove_diameter"]),
        ({**ROD, "rod": "5.9"}, ["rod"]),
        ({**ROD, "rod": "5.9", "bore": "3"}, ["rod"]),
        ({**PISTON, "groove_width": "7.6"}, ["groove_width"]),
        ({**PISTON, "groove_width": "20"}, ["groove_width"]),
        ({**ROD, "groove_width": "6"}, ["groove_width"]),
        ({**PISTON, "bore_tolerance": "3"}, ["bore_tolerance"]),
        ({**PISTON, "bore_tolerance": "8"}, ["bore_tolerance"]),
        ({**PISTON, "groove_diameter_tolerance": "5"}, ["groove_diameter_tolerance"]),
        (
            {**PISTON, "groove_diameter_tolerance": "2", "bore_tolerance": "1"},
            ["groove_diameter_tolerance"],
        ),
        (
            {**PISTON, "groove_width": "2", "groove_width_tolerance": "2"},
            ["groove_width_tolerance"],
        ),
        ({**FACE, "groove_depth_tolerance": "1.4"}, ["groove_depth_tolerance"]),
        ({**FACE, "corner_radius": "1.4"}, ["corner_radius"]),
        ({**FACE, "groove_width": "2", "corner_radius": "1"}, ["corner_radius"]),
        (
            {**PISTON, "ring": {**RING, "cross_section_tolerance": "1.78"}},
            ["ring/cross_section_tolerance"],
        ),
        (
            {**PISTON, "ring": {**RING, "inside_diameter_tolerance": "5"}},
            ["ring/inside_diameter_tolerance"],
        ),
    ],
)
def test_refused_under_its_name(inputs_of, values, named) -> None:
    """The refusal names the inputs that are wrong, and nothing else."""
    with pytest.raises(ImpossibleInput) as refusal:
        compute(inputs_of(**values))
    assert [name for name, _ in refusal.value.problems] == named
    assert all(sentence.endswith((".", "?")) for _, sentence in refusal.value.problems)


def test_a_spread_that_leaves_nothing_is_named_by_its_reading(inputs_of) -> None:
    """A spread belongs to the reading itself."""
    with pytest.raises(ImpossibleInput) as refusal:
        compute(inputs_of(spreads={"bore": "4"}, **PISTON))
    assert [name for name, _ in refusal.value.problems] == ["bore"]


@pytest.mark.parametrize("part", [envelope, drawing])
def test_search_and_drawing_refuse_as_well(inputs_of, part) -> None:
    """Inside and outside swapped stop the search and the drawing too."""
    with pytest.raises(ImpossibleInput):
        part(inputs_of(**{**PISTON, "bore": "4"}))


def test_a_groove_as_wide_as_its_bore_less_a_nanometre_is_taken(inputs_of) -> None:
    """Only what cannot be true is refused; the odd gets a verdict."""
    compute(inputs_of(groove_width=7_599_999, **PISTON))
