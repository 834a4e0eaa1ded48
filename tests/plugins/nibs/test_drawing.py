"""The chart of grades is well-formed, to scale, and self-contained."""

from __future__ import annotations

import pytest

from sparewell_nibs.calculator import drawing
from support.drawings import SVG, parsed, shapes

WIDTHS = ("0.05", "0.5", {"value": "0.5 mm", "spread": "0.05 mm"}, "3", "20")


@pytest.mark.parametrize("width", WIDTHS)
def test_drawing_is_well_formed_and_self_contained(inputs_of, width) -> None:
    """It parses, has a title and a description, and holds no script, style, link or image."""
    document = drawing(inputs_of(width=width))
    root = parsed(document)
    assert "Japanese BB 0.66 mm to 0.86 mm" in root.find(f"{SVG}desc").text
    assert len(document) < 30_000


def test_bands_and_line_stand_at_their_widths(inputs_of) -> None:
    """1 mm of line is 100 mm of paper, and the line itself is drawn at its own width."""
    root = parsed(drawing(inputs_of(width="0.5")))
    bands = shapes(root, "band")
    assert len(bands) == 12
    fine = bands[1]  # Western F: 0.45 to 0.65 mm
    (line,) = shapes(root, "width")
    assert float(fine.get("width")) == pytest.approx(20)
    assert float(line.get("x1")) - float(fine.get("x")) == pytest.approx(5)
    (true_size,) = shapes(root, "true-size")
    assert true_size.get("height") == "0.5"
    assert float(root.get("width").removesuffix("mm")) == float(root.get("viewBox").split()[2])


def test_a_grade_with_crossed_bounds_has_no_band(inputs_of) -> None:
    """What the workshop has set crosswise is named and not drawn."""
    crossed = {"line_width.western_f_low": 700_000}
    document = drawing(inputs_of(width="0.5", changed_settings=crossed))
    assert document.count('class="band"') == 11
    assert "Western F<" in document
