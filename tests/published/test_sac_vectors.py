"""Measured pens and the sac each takes, worked with pencil and paper from the trade's two rules."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, NamedTuple

import pytest

from sparewell.plugin import Inputs, parse_length
from sparewell_sacs.calculator import compute
from sparewell_sacs.settings import SETTINGS

# Source: derived from rules B1/N1: general description of public source. B1 takes the bar off the
# bore twice, its older text (B0) once; N1 takes a sac of the nipple's own number or lower. Stretch
# at a wall of 0.45 mm, which is common practice, no source. Clearance 0 throughout.


class Vector(NamedTuple):
    """One pen in millimetres and what is expected of it."""

    bore: str
    bar: str | None
    rule: str
    nipple: str
    barrel_limit: str
    nipple_limit: str
    size: int
    half_size: str
    stretch: str
    outcome: str
    limited_by: str


VECTORS = (
    Vector("8.0", "0.9", "twice", "6.4", "15.62", "16.13", 15, "15.5", "26.7", "agree", "barrel"),
    Vector("8.0", "0.9", "once", "6.4", "17.89", "16.13", 16, "16", "17.4", "agree", "nipple"),
    Vector(
        "8.0", None, "none", "6.4", "20.16", "16.13", 16, "16", "17.4", "nipple_limits", "nipple"
    ),
    Vector("7.4", "0.9", "twice", "5.6", "14.11", "14.11", 14, "14", "20.3", "agree", "nipple"),
    Vector("9.0", "0.6", "twice", "7.2", "19.65", "18.14", 18, "18", "15.3", "agree", "nipple"),
    Vector(
        "7.0", "0.9", "twice", "6.5", "13.10", "16.38", 13, "13", "52.6", "check_barrel", "barrel"
    ),
    Vector(
        "10.2", "0.9", "twice", "7.0", "21.17", "17.64", 17, "17.5", "19.7", "nipple_limits",
        "nipple",
    ),
    Vector(
        "8.6", "0.5", "twice", "6.0", "19.15", "15.12", 15, "15", "18.7", "nipple_limits", "nipple"
    ),
)  # fmt: skip


def inputs_of(vector: Vector) -> Inputs:
    """Return the vector as the calculator takes it."""
    values: dict[str, Any] = {
        "barrel_bore": parse_length(vector.bore),
        "nipple_diameter": parse_length(vector.nipple),
        "bar_rule": vector.rule,
        "clearance": 0,
    }
    if vector.bar is not None:
        values["bar_height"] = parse_length(vector.bar)
    settings = {setting.name: setting.default for setting in SETTINGS}
    return Inputs(values, spreads={}, settings=settings)


def answer_of(vector: Vector) -> Mapping[str, Any]:
    """Return the calculator's result for the vector."""
    return compute(inputs_of(vector)).result


@pytest.mark.parametrize("vector", VECTORS)
def test_each_pen_gets_the_size_worked_by_hand(vector: Vector) -> None:
    """Limits, sizes, stretch, outcome and what limits agree with the working by hand."""
    result = answer_of(vector)
    assert result["barrel_limit"] == Decimal(vector.barrel_limit)
    assert result["nipple_limit"] == Decimal(vector.nipple_limit)
    assert result["size"] == vector.size
    assert result["half_size"] == Decimal(vector.half_size)
    assert result["stretch_percent"]["nominal"] == Decimal(vector.stretch)
    assert result["outcome"] == vector.outcome
    assert result["limited_by"] == vector.limited_by


def test_the_half_size_eases_the_first_pen() -> None:
    """A 15½ on the first pen is stretched 22 % where a 15 is stretched 27 %, which is noted."""
    answer = compute(inputs_of(VECTORS[0]))
    assert answer.result["half_size_stretch_percent"]["nominal"] == Decimal("21.9")
    assert any("26.7 %" in warning and "15½" in warning for warning in answer.warnings)


def test_the_two_bar_rules_differ_by_two_sizes() -> None:
    """With the bar taken off once, a warning says that the two rules differ by two sizes."""
    warnings = compute(inputs_of(VECTORS[1])).warnings
    assert any("differ by two sizes" in warning for warning in warnings)


def test_a_doubtful_barrel_is_asked_about_before_anything_is_recommended() -> None:
    """Three sizes apart, the answer asks after old sac and bar, and recommends no other sac."""
    answer = compute(inputs_of(VECTORS[5]))
    assert any(
        "old sac still stuck" in warning and "bent, doubled, or the wrong one" in warning
        for warning in answer.warnings
    )
    assert answer.result["substitutes"] == []
    assert answer.result["also_possible"] == []


def test_a_small_nipple_can_be_sleeved_or_necked() -> None:
    """A 6.0 nipple in a barrel for 19: a sleeve makes it 6.9 mm for a 17, or a necked 18 to 19."""
    alternatives = {entry["do"]: entry for entry in answer_of(VECTORS[7])["alternatives"]}
    assert alternatives["sleeve_the_nipple"]["size"] == 17
    assert "6.9 mm" in alternatives["sleeve_the_nipple"]["why"]
    assert alternatives["necked_sac"]["size"] == 19
    assert "18 to 19" in alternatives["necked_sac"]["why"]
