"""Values that plugins' fields describe: groups, lists, numbers, and the settings that hold them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from sparewell.extend.fields import Field, FieldType, Setting
from sparewell.extend.values import ValueRefused, read_number, read_setting, read_value

RING = Field(
    "ring",
    "ring",
    FieldType.GROUP,
    members=(
        Field("inside_diameter", "inside", required=True),
        Field("worn", "worn", FieldType.FLAG),
    ),
)
PUNCHES = Setting(
    "gasket.punches", "punches", FieldType.LENGTHS, (3_000_000,), "the workshop's own"
)


def test_group_is_read_member_by_member() -> None:
    """A group gives the members that were given, each as its own field reads it."""
    read = read_value(RING, {"inside_diameter": "1/8 in", "worn": True})
    assert read.value == {"inside_diameter": 3_175_000, "worn": True}


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        ("ring", "give an object with inside_diameter, worn"),
        ({"worn": True}, "inside_diameter: required"),
        ({"inside_diameter": 1, "colour": "red"}, "colour: not known here"),
        ({"inside_diameter": -1}, "inside_diameter: "),
        ({"inside_diameter": 1, "worn": "yes"}, "worn: give true or false"),
    ],
)
def test_group_says_which_member_is_wrong(raw: Any, told: str) -> None:
    """A refusal of a group names the member and what it would take."""
    with pytest.raises(ValueRefused, match=told):
        read_value(RING, raw)


@pytest.mark.parametrize("raw", [["3 mm", "1/4 in"], "3 mm; 1/4 in;", [3, 6.35]])
def test_list_of_lengths_is_read_in_either_form(raw: Any) -> None:
    """A list, or a text with semicolons, gives whole nanometres in the same order."""
    assert read_setting(PUNCHES, raw) == (3_000_000, 6_350_000)


@pytest.mark.parametrize("raw", ["3 mm; six", [0], {"a": 1}, 7, ["1"] * 201, None])
def test_list_that_is_none_is_refused(raw: Any) -> None:
    """A bad length in the list, too many of them, or no list at all is refused."""
    with pytest.raises(ValueRefused):
        read_setting(PUNCHES, raw)


@pytest.mark.parametrize(
    ("raw", "number"),
    [("15.5", "15.5"), ("15,5", "15.5"), ("15½", "15.5"), (7, "7"), (Decimal("0.1"), "0.1")],
)
def test_numbers_are_read_exactly(raw: Any, number: str) -> None:
    """Numbers come as JSON numbers or texts with either decimal sign, and stay exact."""
    assert read_number(raw) == Decimal(number)


@pytest.mark.parametrize(
    "raw", ["", "x", "1e3", "1_0", True, None, [], Decimal("NaN"), 10**10, Decimal("1e3000000")]
)
def test_numbers_that_are_none_are_refused(raw: Any) -> None:
    """Anything else is refused with an example, the largest exponent at once."""
    with pytest.raises(ValueRefused):
        read_number(raw)
