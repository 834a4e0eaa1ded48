"""The drawing is well-formed, to scale and self-contained, and never endless."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell_gaskets.calculator import compute
from sparewell_gaskets.drawing import MOST_DRAWN, drawing
from support.drawings import parsed, shapes

CASES = (
    {"bore": "6.5", "rod": "3"},
    {"bore": "6.5"},
    {"backing_washer": "8.2"},
    {"outside_diameter": "8", "inside_diameter": "2", "sheet_length": "90", "sheet_width": "40"},
    {"outside_diameter": "8", "sheet_length": "40", "sheet_width": "97", "sheet_edge": "2"},
    {"outside_diameter": "8", "sheet_length": "16", "sheet_width": "40", "spacing": "1"},
    {"outside_diameter": "8", "sheet_length": "5", "sheet_width": "90"},
    {"outside_diameter": "1", "sheet_length": "900", "sheet_width": "900", "spacing": "0"},
)


@pytest.mark.parametrize("case", CASES)
def test_drawing_is_well_formed_and_self_contained(inputs_of, case) -> None:
    """It parses, has a title and a description, and holds no script, style, link or image."""
    parsed(drawing(inputs_of(**case)))


@pytest.mark.parametrize("case", CASES)
def test_washers_are_drawn_to_the_nanometre_and_all_of_them(inputs_of, case) -> None:
    """Radii are the numbers, as many are drawn as the layout gives, and all lie on the sheet."""
    inputs = inputs_of(**case)
    result = compute(inputs).result
    root = parsed(drawing(inputs))
    drawn = shapes(root, "washer")
    expected = 1 if result["best_count"] is None else min(result["best_count"], MOST_DRAWN)
    assert len(drawn) == expected
    for circle in drawn:
        assert Decimal(circle.get("r")) * 2_000_000 == result["outside_diameter"]
    holes = shapes(root, "hole")
    assert len(holes) == (0 if result["inside_diameter"] is None else expected)
    sheets = shapes(root, "sheet")
    for sheet in sheets:
        left, top, width, high = (
            Decimal(sheet.get(name)) for name in ("x", "y", "width", "height")
        )
        for circle in drawn:
            x, y, radius = (Decimal(circle.get(name)) for name in ("cx", "cy", "r"))
            assert left <= x - radius
            assert x + radius <= left + width
            assert top <= y - radius
            assert y + radius <= top + high


def test_more_than_can_be_drawn_is_said(inputs_of) -> None:
    """Hundreds of thousands of washers stay a page, which says how many of them it shows."""
    document = drawing(inputs_of(**CASES[-1]))
    assert f"Only the first {MOST_DRAWN} are drawn" in document
    assert len(document) < 400_000


def test_page_is_the_drawing_times_its_scale(inputs_of) -> None:
    """A washer of 6.6 mm is drawn ten to one, a sheet of 90 mm one to one."""
    for case, scale in ((CASES[0], 10), (CASES[3], 1)):
        document = drawing(inputs_of(**case))
        root = parsed(document)
        width = float(root.get("viewBox").split()[2])
        assert float(root.get("width").removesuffix("mm")) == pytest.approx(width * scale)
        assert f"Scale {scale}:1" in document
