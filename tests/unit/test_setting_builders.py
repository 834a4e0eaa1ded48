"""The builders of settings: lengths as they are written, limits that hold, null where allowed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from sparewell.extend.values import ValueRefused, read_setting
from sparewell.plugin import (
    COMMON_PRACTICE,
    Setting,
    Value,
    choice_setting,
    count_setting,
    flag_setting,
    length_setting,
    lengths_setting,
    number_setting,
    percent_setting,
    text_setting,
)

NAMED = ("weight.one", "how much")
LENGTH = length_setting(*NAMED, "1/32 in", most="2 mm")
NUMBER = number_setting(*NAMED, "2.5", unit="g", least=1, most="3.5")
PERCENT = percent_setting(*NAMED, 15)
COUNT = count_setting(*NAMED, 4, unit="days", most=9)
CHOICE = choice_setting(*NAMED, "thin", choices=("thin", "thick"))
FLAG = flag_setting(*NAMED)
TEXT = text_setting(*NAMED, "poisson")
LENGTHS = lengths_setting(*NAMED, ("0.5", "1/4 in"))


@pytest.mark.parametrize(
    ("setting", "default"),
    [
        (LENGTH, 793_750),
        (NUMBER, Decimal("2.5")),
        (PERCENT, Decimal(15)),
        (COUNT, 4),
        (CHOICE, "thin"),
        (FLAG, True),
        (TEXT, "poisson"),
        (LENGTHS, (500_000, 6_350_000)),
    ],
)
def test_default_is_kept_exactly(setting: Setting, default: Value) -> None:
    """Each builder keeps its default to the nanometre, and without a source says there is none."""
    assert setting.default == default
    assert type(setting.default) is type(default)
    assert setting.source == COMMON_PRACTICE
    assert not setting.nullable


@pytest.mark.parametrize(
    ("setting", "raw"),
    [
        (LENGTH, "2.1 mm"),
        (NUMBER, "0.9"),
        (NUMBER, 4),
        (PERCENT, 201),
        (PERCENT, -1),
        (COUNT, 0),
        (COUNT, 10),
        (CHOICE, "tapered"),
        (FLAG, 1),
        (TEXT, ""),
        (LENGTHS, [0]),
        (LENGTH, None),
    ],
)
def test_value_outside_the_limits_is_refused(setting: Setting, raw: Any) -> None:
    """The limits a builder was given, or its usual ones, refuse what lies beyond them."""
    with pytest.raises(ValueRefused):
        read_setting(setting, raw)


@pytest.mark.parametrize("setting", [length_setting(*NAMED, None), number_setting(*NAMED, None)])
def test_default_of_none_makes_null_a_value(setting: Setting) -> None:
    """A setting without a default can be set back to null."""
    assert setting.nullable
    assert read_setting(setting, None) is None
