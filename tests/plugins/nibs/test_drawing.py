"""The chart of grades is well-formed, to scale, and self-contained."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from sparewell_nibs.calculator import drawing

SVG = "{http://www.w3.org/2000/svg}"
WIDTHS = ("0.05", "0.5", {"value": "0.5 mm", "spread": "0.05 mm"}, "3", "20")


@pytest.mark.parametrize("width", WIDTHS)
def test_drawing_is_well_formed_and_self_contained(inputs_of, width) -> None:
    """It parses, has a title and a description, and holds no script, style, link or image."""
    document = drawing(inputs_of(width=width))
    root = ET.fromstring(document)  # noqa: S314 - our own drawing
    names = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert names <= {"svg", "title", "desc", "rect", "line", "text"}
    assert root.find(f"{SVG}title").text
    assert "Japanese BB 0.66 mm to 0.86 mm" in root.find(f"{SVG}desc").text
    assert not re.search(r"(?<!xmlns=\")https?://|url\(| on\w+=", document)
    assert len(document) < 30_000


def test_bands_and_line_stand_at_their_widths(inputs_of) -> None:
    """1 mm of line is 100 mm of paper, and the line itself is drawn at its own width."""
    root = ET.fromstring(drawing(inputs_of(width="0.5")))  # noqa: S314 - our own drawing
    bands = [band for band in root.iter(f"{SVG}rect") if band.get("class") == "band"]
    assert len(bands) == 12
    fine = bands[1]  # Western F: 0.45 to 0.65 mm
    line = next(one for one in root.iter(f"{SVG}line") if one.get("class") == "width")
    assert float(fine.get("width")) == pytest.approx(20)
    assert float(line.get("x1")) - float(fine.get("x")) == pytest.approx(5)
    true_size = next(r for r in root.iter(f"{SVG}rect") if r.get("class") == "true-size")
    assert true_size.get("height") == "0.5"
    assert float(root.get("width").removesuffix("mm")) == float(root.get("viewBox").split()[2])


def test_a_grade_with_crossed_bounds_has_no_band(inputs_of) -> None:
    """What the workshop has set crosswise is named and not drawn."""
    crossed = {"line_width.western_f_low": 700_000}
    document = drawing(inputs_of(width="0.5", changed_settings=crossed))
    assert document.count('class="band"') == 11
    assert "Western F<" in document
