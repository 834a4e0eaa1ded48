"""The drawing is well-formed, to scale, labelled and self-contained."""

from __future__ import annotations

import math

import pytest

from sparewell_o_rings.calculator import compute
from sparewell_o_rings.drawing import drawing
from support.drawings import check_scale, parsed, shapes

GLANDS = (
    {"gland": "piston", "bore": "7.6", "groove_diameter": "4.6", "groove_width": "2.4"},
    {"gland": "rod", "bore": "5.9", "rod": "3", "duty": "moving"},
    {"gland": "face", "groove_depth": "1.4", "groove_diameter": "8", "groove_width": "2.5"},
    {"gland": "piston", "bore": "70", "groove_diameter": "61.6", "groove_width": "7"},
    {"gland": "piston", "bore": "300", "groove_diameter": "200", "groove_width": "80"},
    {
        "gland": "piston",
        "bore": "7.6",
        "groove_diameter": "4.6",
        "groove_width": "2.4",
        "ring": {"inside_diameter": "4.5", "cross_section": "1.2"},
    },
)


@pytest.mark.parametrize("gland", GLANDS)
def test_drawing_is_well_formed_and_self_contained(inputs_of, gland) -> None:
    """It parses, has a title and a description, and holds no script, style, link or image."""
    parsed(drawing(inputs_of(**gland)))


@pytest.mark.parametrize("gland", [gland for gland in GLANDS if gland.get("bore") != "300"])
def test_ring_is_drawn_squeezed_to_scale(inputs_of, gland) -> None:
    """The gap is drawn as high as it is, and the ring keeps its stretched section's area."""
    inputs = inputs_of(**gland)
    result = compute(inputs).result
    root = parsed(drawing(inputs))
    drawn = {name: shapes(root, name)[0] for name in ("gap", "ring", "free")}
    gap = result["gap"]["nominal"] / 1e6
    assert float(drawn["gap"].get("height")) == pytest.approx(gap)
    left = result["rings"][0]["stretched_section"] / 1e6
    ring = drawn["ring"]
    wide, high = float(ring.get("width")), float(ring.get("height"))
    assert high == pytest.approx(min(gap, left))
    area = math.pi / 4 * high**2 + (wide - high) * high
    assert area == pytest.approx(math.pi / 4 * left**2, rel=1e-5)
    assert float(ring.get("rx")) == pytest.approx(high / 2)
    free = result["rings"][0]["cross_section"] / 1e6
    assert float(drawn["free"].get("r")) == pytest.approx(free / 2)
    bottom = float(ring.get("y")) + high
    assert bottom == pytest.approx(float(drawn["gap"].get("y")) + gap)
    if "groove_width" in gland:
        assert float(drawn["gap"].get("width")) == pytest.approx(float(gland["groove_width"]))


@pytest.mark.parametrize("gland", GLANDS)
def test_page_is_a_whole_multiple_of_the_pen(inputs_of, gland) -> None:
    """Width and height in millimetres are the view box times the scale that is written on it."""
    check_scale(parsed(drawing(inputs_of(**gland))))


def test_labels_carry_the_numbers(inputs_of, piston) -> None:
    """The captions say gap, width, stretch, squeeze, fill and verdict."""
    document = drawing(
        inputs_of(ring={"inside_diameter": "4.47", "cross_section": "1.78"}, **piston)
    )
    for words in ("4.47 x 1.78 mm", "Gap 1.5 mm", "2.4 mm", "Squeeze 14.4 %", "verdict: fits"):
        assert words in document
    assert "by tolerance" not in document


def test_a_rod_is_drawn_outside_its_groove(inputs_of) -> None:
    """The cavity is in the body, so the rod is what closes it."""
    document = drawing(inputs_of(gland="rod", bore="5.9", rod="3", duty="moving"))
    assert ">rod</text>" in document
    assert "body with the cavity" in document
