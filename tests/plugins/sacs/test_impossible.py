"""Readings that cannot be true together are refused, and the one to look at is named."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.plugin import ImpossibleInput
from sparewell_sacs.calculator import compute
from sparewell_sacs.drawing import drawing
from sparewell_sacs.fit import envelope

BARREL = {"barrel_bore": "8", "bar_height": "0.9", "nipple_diameter": "6.4"}

CASES = (
    ("no bore at all", {"nipple_diameter": "6.4"}, "barrel_bore"),
    ("two bores", {**BARREL, "guard_bore": "7"}, "guard_bore"),
    ("bar fills bore", {**BARREL, "bar_height": "4"}, "bar_height"),
    ("ring fills bore", {**BARREL, "ring_wire": "4.1"}, "ring_wire"),
    ("clearance fills bore", {**BARREL, "clearance": "6.2"}, "clearance"),
    (
        "default clearance fills bore",
        {"barrel_bore": "1.2", "bar_height": "0.5", "nipple_diameter": "1"},
        "barrel_bore",
    ),
    ("default bar fills bore", {"barrel_bore": "1.8", "nipple_diameter": "1"}, "barrel_bore"),
    ("bar fills tail", {**BARREL, "barrel_bore_tail": "1.8"}, "barrel_bore_tail"),
    ("nipple as wide as bore", {**BARREL, "nipple_diameter": "8"}, "nipple_diameter"),
    ("nipple wider than guard", {"guard_bore": "6", "nipple_diameter": "6.4"}, "nipple_diameter"),
    ("walls leave no hole", {**BARREL, "wall": "3.2"}, "wall"),
    (
        "bar as wide as bore",
        {"barrel_bore": "8", "nipple_diameter": "6", "bar_thickness": "0.5", "bar_width": "8"},
        "bar_width",
    ),
    (
        "thick bar fills bore",
        {"barrel_bore": "8", "nipple_diameter": "6", "bar_thickness": "3.9", "bar_width": "3"},
        "bar_thickness",
    ),
    (
        "thickness without width",
        {"barrel_bore": "8", "nipple_diameter": "6", "bar_thickness": "0.5"},
        "bar_width",
    ),
    (
        "width without thickness",
        {"barrel_bore": "8", "nipple_diameter": "6", "bar_width": "3"},
        "bar_thickness",
    ),
    ("tenon as long as barrel", {**BARREL, "barrel_depth": "30", "tenon_length": "30"},
     "tenon_length"),
    ("gap as long as barrel", {**BARREL, "barrel_depth": "30", "end_gap": "30"}, "end_gap"),
    ("barrel shorter than gap", {**BARREL, "barrel_depth": "3"}, "barrel_depth"),
    (
        "nipple takes the whole sac",
        {**BARREL, "barrel_depth": "30", "tenon_length": "20", "nipple_length": "6"},
        "nipple_length",
    ),
    ("bore deeper than barrel", {**BARREL, "barrel_depth": "30", "barrel_bore_at": "31"},
     "barrel_bore_at"),
    ("quarter size", {**BARREL, "try_in": Decimal("15.25")}, "try_in"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("values", "culprit"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_contradiction_is_refused_by_name(inputs_of, values, culprit) -> None:
    """The refusal names the input to look at and says in a sentence what is wrong."""
    with pytest.raises(ImpossibleInput) as refusal:
        compute(inputs_of(**values))
    assert [name for name, _ in refusal.value.problems] == [culprit]
    for _, sentence in refusal.value.problems:
        assert sentence[0].isupper()
        assert sentence.endswith(".")


def test_several_contradictions_are_named_together(inputs_of) -> None:
    """A nipple wider than the bore and a bar that fills it are both named at once."""
    with pytest.raises(ImpossibleInput) as refusal:
        compute(inputs_of(barrel_bore="8", bar_height="4", nipple_diameter="9"))
    assert {name for name, _ in refusal.value.problems} == {"nipple_diameter", "bar_height"}


def test_box_and_drawing_refuse_the_same(inputs_of) -> None:
    """The search and the drawing refuse what the sizing refuses."""
    inputs = inputs_of(barrel_bore="8", bar_height="4", nipple_diameter="6")
    for part in (envelope, drawing):
        with pytest.raises(ImpossibleInput):
            part(inputs)


def test_a_bar_a_nanometre_lower_is_possible(inputs_of) -> None:
    """Two nanometres of room are room: the answer is size 0, and nothing is sold there."""
    answer = compute(inputs_of(barrel_bore="8", bar_height=3_999_999, nipple_diameter="6.4"))
    assert answer.result["size"] == 0
    assert answer.result["outcome"] == "check_barrel"
    assert any("Nothing is sold" in warning for warning in answer.warnings)
