"""Reading the drawings of calculators: each is parsed, and held to what all of them must be."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

SVG = "{http://www.w3.org/2000/svg}"
ELEMENTS = {"svg", "title", "desc", "rect", "circle", "line", "text"}


def parsed(document: str) -> ET.Element:
    """Return the root of a drawing that stands alone.

    It is well-formed, tells what it shows, and holds no script, style, link or image.
    """
    root = ET.fromstring(document)  # noqa: S314 - our own drawing
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= ELEMENTS
    assert root.find(f"{SVG}title").text
    assert root.find(f"{SVG}desc").text.endswith(".")
    attributes = {name for element in root.iter() for name in element.attrib}
    assert not any(
        name.startswith("on") or "href" in name or name == "style" for name in attributes
    )
    assert not re.search(r"(?<!xmlns=\")https?://|url\(", document)
    return root


def shapes(root: ET.Element, name: str) -> list[ET.Element]:
    """Return the shapes of one name, in the order they were drawn."""
    return [element for element in root.iter() if element.get("class") == name]


def check_scale(root: ET.Element) -> None:
    """Fail unless the page, in millimetres, is the view times the scale that is written on it."""
    words = " ".join(element.text for element in root.iter(f"{SVG}text"))
    scale = int(re.search(r"Scale (\d+):1", words)[1])
    _, _, width, height = (float(number) for number in root.get("viewBox").split())
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(width * scale, rel=1e-4)
    assert float(root.get("height").removesuffix("mm")) == pytest.approx(height * scale, rel=1e-4)
