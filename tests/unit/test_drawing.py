"""The maker of drawings: to scale, escaped, and on paper of its own."""

from __future__ import annotations

from fractions import Fraction

import pytest

from sparewell.plugin import MARGIN, PAPER_WIDTH, Drawing, Look, in_millimetres, largest_scale
from support.drawings import SVG, parsed

RING = Look("ring", "#4b4b4b", "#111111", line=Fraction(1, 2), opacity=".8", dashed=True)


@pytest.mark.parametrize("scale", [10, 1, Fraction(1, 5)])
def test_lengths_on_the_paper_go_with_the_scale(scale: Fraction | int) -> None:
    """The page is the view times the scale; texts and lines keep their size on the paper."""
    picture = Drawing(scale)
    picture.circle(RING, Fraction(2), Fraction(2), Fraction(1))
    root = parsed(picture.captioned(["A ring"], Fraction(4), Fraction(4)))
    wide = float(root.get("viewBox").split()[2])
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(wide * scale)
    assert float(root.get("font-size")) * scale == pytest.approx(3)
    ring = root.find(f"{SVG}circle")
    assert ring.get("r") == "1"
    assert float(ring.get("stroke-width")) * scale == pytest.approx(0.5)
    assert ring.get("fill-opacity") == ".8"


def test_words_are_escaped_and_told_twice() -> None:
    """Captions may hold any sign, and stand in title and description for who cannot see."""
    root = parsed(Drawing(2).captioned(["<b>&'\"", "second"], Fraction(4), Fraction(4)))
    assert root.find(f"{SVG}title").text == "<b>&'\""
    assert root.find(f"{SVG}desc").text == "<b>&'\". second. Scale 2:1 when printed at 100 %."
    assert [line.text for line in root.iter(f"{SVG}text")] == [
        "<b>&'\"",
        "second",
        "Scale 2:1 when printed at 100 %",
    ]


def test_drawing_brings_its_own_paper_and_ink() -> None:
    """White paper lies under all else and the ink is dark, so that a dark page changes nothing."""
    root = parsed(Drawing(1).document("A", "b", Fraction(30), Fraction(20)))
    first = next(root.iter(f"{SVG}rect"))
    assert (first.get("class"), first.get("fill")) == ("paper", "#ffffff")
    assert (first.get("width"), first.get("height")) == ("30", "20")
    assert root.get("fill") == "#222222"
    assert "style" not in root.attrib


@pytest.mark.parametrize(
    ("nanometres", "scale"),
    [(16_800_000, 10), (16_800_001, 8), (168_000_000, 1), (10**9, Fraction(1, 10))],
)
def test_largest_scale_that_fits_is_taken(nanometres: int, scale: Fraction | int) -> None:
    """A width fits the paper between its margins; what is too large for all takes the smallest."""
    assert largest_scale(in_millimetres(nanometres)) == scale
    assert PAPER_WIDTH - 2 * MARGIN == 168
