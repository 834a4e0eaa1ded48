"""Where one band, and one outcome, ends and the next begins."""

from __future__ import annotations

from fractions import Fraction

import pytest

from sparewell_sacs.limits import SizingOutcome, chord_height_nanometres, outcome_of
from sparewell_sacs.stretch import Grip, grip_of

HAIR = Fraction(1, 10**9)


# Bands of stretch: common practice, no source.
@pytest.mark.parametrize(
    ("percent", "just_below", "at", "just_above"),
    [
        (0, Grip.FALLS_OFF, Grip.LOOSE, Grip.LOOSE),
        (3, Grip.LOOSE, Grip.MARGINAL, Grip.MARGINAL),
        (5, Grip.MARGINAL, Grip.GOOD, Grip.GOOD),
        (20, Grip.GOOD, Grip.GOOD, Grip.ACCEPTABLE),
        (30, Grip.ACCEPTABLE, Grip.ACCEPTABLE, Grip.TIGHT),
        (35, Grip.TIGHT, Grip.TIGHT, Grip.REFUSED),
    ],
)
def test_edges_of_the_bands_for_latex(inputs_of, percent, just_below, at, just_above) -> None:
    """Exactly 5, 20, 30 and 35 % still belong to the kinder band."""
    inputs = inputs_of()
    assert grip_of(inputs, percent - HAIR, "latex") is just_below
    assert grip_of(inputs, Fraction(percent), "latex") is at
    assert grip_of(inputs, percent + HAIR, "latex") is just_above


def test_no_hole_is_refused(inputs_of) -> None:
    """A sac whose walls leave no hole is refused."""
    assert grip_of(inputs_of(), None, "latex") is Grip.REFUSED


# The whole sizes apart: common practice, no source.
@pytest.mark.parametrize(
    ("barrel", "nipple", "outcome"),
    [
        (19, 16, SizingOutcome.NIPPLE_LIMITS),
        (18, 16, SizingOutcome.NIPPLE_LIMITS),
        (17, 16, SizingOutcome.AGREE),
        (16, 16, SizingOutcome.AGREE),
        (15, 16, SizingOutcome.AGREE),
        (14, 16, SizingOutcome.BARREL_LIMITS),
        (13, 16, SizingOutcome.CHECK_BARREL),
        (12, 16, SizingOutcome.CHECK_BARREL),
    ],
)
def test_outcome_by_whole_sizes(barrel, nipple, outcome) -> None:
    """Two sizes apart names a limit; three sizes short in the barrel doubts the barrel."""
    numbers = {"check_barrel_sizes": 3, "limits_apart_sizes": 2}
    plain = outcome_of(barrel_size=barrel, nipple_size=nipple, overstretched=False, **numbers)
    stretched = outcome_of(barrel_size=barrel, nipple_size=nipple, overstretched=True, **numbers)
    assert plain is outcome
    assert stretched is SizingOutcome.CHECK_BARREL


def test_a_chord_as_wide_as_the_bore_is_refused() -> None:
    """A bar as wide as the bore cannot lie in it as a chord."""
    with pytest.raises(ValueError, match="as wide as the bore"):
        chord_height_nanometres(
            bore_nanometres=8_000_000,
            bar_width_nanometres=8_000_000,
            bar_thickness_nanometres=500_000,
        )


def test_a_chord_by_hand() -> None:
    """A bore of 10 and a strip of 6 leave a sagitta of exactly 1 mm: 5 - sqrt(25 - 9) (derived)."""
    height = chord_height_nanometres(
        bore_nanometres=10_000_000,
        bar_width_nanometres=6_000_000,
        bar_thickness_nanometres=500_000,
    )
    assert height == 1_500_000
