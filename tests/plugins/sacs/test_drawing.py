"""The drawing is well-formed, to scale, labelled and self-contained."""

from __future__ import annotations

from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest

from sparewell.plugin import NANOMETRES_PER_MILLIMETRE
from sparewell_sacs.calculator import compute
from sparewell_sacs.drawing import drawing
from support.drawings import SVG, check_scale, parsed, shapes

PENS = (
    {"barrel_bore": "8", "bar_height": "0.9", "nipple_diameter": "6.4", "old_sac": "<b>&'\""},
    {"barrel_bore": "8", "nipple_diameter": "6.4", "bar_rule": "once"},
    {"barrel_bore": "8", "bar_thickness": "0.5", "bar_width": "3", "nipple_diameter": "6"},
    {"barrel_bore": "8", "ring_wire": "1.2", "nipple_diameter": "6"},
    {"barrel_bore": "9", "barrel_bore_tail": "7.8", "nipple_diameter": "6"},
    {"guard_bore": "7", "nipple_diameter": "6.4"},
    {"barrel_bore": "7", "bar_height": "0.9", "nipple_diameter": "6.5"},
    {"barrel_bore": "2.2", "bar_height": "0.9", "nipple_diameter": "2"},
    {"barrel_bore": "98", "bar_height": "0.9", "nipple_diameter": "90"},
)


def circles(document: str) -> dict[str, ET.Element]:
    """Return the circles by class; of each class the last."""
    return {circle.get("class"): circle for circle in parsed(document).iter(f"{SVG}circle")}


@pytest.mark.parametrize("pen", PENS)
def test_drawing_is_well_formed_and_self_contained(inputs_of, pen) -> None:
    """It parses, has a title and a description, and holds no script, style, link or image."""
    parsed(drawing(inputs_of(**pen)))


@pytest.mark.parametrize("pen", PENS)
def test_radii_are_the_numbers_themselves(inputs_of, pen) -> None:
    """Bore, sac, nipple and the sac over it are drawn with half of their diameters."""
    inputs = inputs_of(**pen)
    result = compute(inputs).result
    drawn = circles(drawing(inputs))
    bore = inputs.length("barrel_bore") or inputs.length("guard_bore")
    diameters = {
        "bore": bore,
        "nipple": inputs.length("nipple_diameter"),
        "over-nipple": result["over_nipple_diameter"],
        "sac": int(result["recommended"] * 396_875),
    }
    for name, diameter in diameters.items():
        radius = Decimal(diameter) / 2 / NANOMETRES_PER_MILLIMETRE
        assert Decimal(drawn[name].get("r")) == radius, name


@pytest.mark.parametrize("pen", PENS)
def test_page_is_a_whole_multiple_of_the_pen(inputs_of, pen) -> None:
    """Width and height in millimetres are the view box times the scale that is written on it."""
    root = parsed(drawing(inputs_of(**pen)))
    check_scale(root)
    assert [bar.get("width") for bar in shapes(root, "scale")] == ["5"]


def test_sac_and_bar_do_not_overlap(inputs_of) -> None:
    """On the axis, the sac's lower edge stays above the face of the bar."""
    inputs = inputs_of(
        barrel_bore="8", bar_thickness="0.5", bar_width="3", nipple_diameter="6.4", clearance="0"
    )
    document = drawing(inputs)
    bar = shapes(parsed(document), "bar")[0]
    sac = circles(document)["sac"]
    assert Decimal(sac.get("cy")) + Decimal(sac.get("r")) <= Decimal(bar.get("y"))
    assert bar.get("width") == "3"
    assert Decimal(bar.get("height")) == pytest.approx(Decimal("0.5"), abs=Decimal("0.000002"))


def test_off_the_axis_the_sac_keeps_clear_of_bar_and_wall(inputs_of) -> None:
    """With the bar taken off once, the sac is drawn above the axis, inside the bore."""
    drawn = circles(drawing(inputs_of(barrel_bore="8", nipple_diameter="6.4", bar_rule="once")))
    bore, sac = drawn["bore"], drawn["sac"]
    # The last bore of the document belongs to the other view; both stand at the same height.
    shift = Decimal(bore.get("cy")) - Decimal(sac.get("cy"))
    assert shift == pytest.approx(Decimal("0.45"), abs=Decimal("0.000001"))
    assert shift + Decimal(sac.get("r")) <= Decimal(bore.get("r"))


def test_labels_carry_the_numbers(inputs_of, sample) -> None:
    """The captions say bore, bar, room, sac and nipple in numbers."""
    document = drawing(inputs_of(**sample))
    for words in ("8 mm", "0.9 mm", "6.2 mm = 15.62/64 in", "Sac 15½", "6.4 mm = 16.13/64 in"):
        assert words in document
