"""The components of donors: vocabulary, leading dimensions, threads, grades and colours."""

from __future__ import annotations

import pytest

from sparewell.extend.checks import check_kind
from sparewell.plugin import FieldType
from sparewell_nibs.kinds import KINDS
from sparewell_nibs.plugin import part_kinds

BY_NAME = {kind.name: kind for kind in KINDS}
EXPECTED = {
    "nib": "outside_diameter",
    "feed": "outside_diameter",
    "section": "outside_diameter",
    "breather_tube": "outside_diameter",
    "cap": "thread_diameter",
    "inner_cap": "inside_diameter",
    "clip": "length",
    "cap_ring": "inside_diameter",
    "jewel": "outside_diameter",
    "lever": "length",
    "lever_box": "length",
    "button": "outside_diameter",
    "blind_cap": "thread_diameter",
    "filler_unit": "outside_diameter",
    "sac_guard": "inside_diameter",
    "rod": "outside_diameter",
    "converter_seal": "inside_diameter",
    "barrel": "inside_diameter",
}


def test_every_component_of_a_donor_is_a_kind_led_by_what_it_is_matched_by() -> None:
    """The names are complete, and each is looked up by its own leading dimension."""
    assert {kind.name: kind.led_by for kind in part_kinds()} == EXPECTED


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_kind_is_one_the_host_accepts(kind) -> None:
    """Dimensions are shared words with usual bounds, and every kind has materials."""
    check_kind(kind)
    assert all(dimension.plausible for dimension in kind.dimensions)
    assert kind.materials
    assert kind.counted_by == ("piece",)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_whatever_has_a_thread_has_its_starts_and_its_hand(kind) -> None:
    """Major diameter, lead, starts and hand come together; the starts are a count, the hand two."""
    dimensions = {dimension.name for dimension in kind.dimensions}
    attributes = {attribute.name: attribute for attribute in kind.attributes}
    assert ("thread_diameter" in dimensions) == ("thread_lead" in dimensions)
    if "thread_diameter" in dimensions:
        assert attributes["thread_starts"].type is FieldType.INTEGER
        assert attributes["thread_starts"].minimum == 1
        assert attributes["thread_hand"].choices == ("right", "left")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_attributes_can_be_stored_and_searched(kind) -> None:
    """Attributes are counts, choices or texts, say what they are, and always note the colour."""
    assert "colour_note" in {attribute.name for attribute in kind.attributes}
    for attribute in kind.attributes:
        assert attribute.type in {FieldType.INTEGER, FieldType.CHOICE, FieldType.TEXT}
        assert attribute.title
        assert attribute.help
        assert bool(attribute.choices) == (attribute.type is FieldType.CHOICE)


def test_a_nib_has_its_grade_and_flexibility() -> None:
    """Grades hold every grade that line_width answers with."""
    attributes = {attribute.name: attribute for attribute in BY_NAME["nib"].attributes}
    assert {"UEF", "EF", "F", "MF", "M", "B", "BB"} <= set(attributes["grade"].choices)
    assert "flexible" in attributes["flexibility"].choices


def test_a_slip_cap_can_be_found_by_its_lip() -> None:
    """A cap without a thread is still described: inside at the lip, outside, length."""
    names = {dimension.name for dimension in BY_NAME["cap"].dimensions}
    assert {"inside_diameter", "outside_diameter", "length"} <= names
