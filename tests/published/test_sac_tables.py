"""The size table and the volume table of sacs, every cell."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from sparewell.plugin import NANOMETRES_PER_INCH, NANOMETRES_PER_MILLIMETRE, Inputs, parse_length
from sparewell_sacs.calculator import compute
from sparewell_sacs.limits import diameter_nanometres
from sparewell_sacs.settings import SETTINGS

# Source: the number is the outside diameter in 64ths of an inch: general description of public
# restorers' notes. The columns follow from it: derived here.
SIZES = (
    ("8", "3.18", "0.125"),
    ("10", "3.97", "0.156"),
    ("12", "4.76", "0.188"),
    ("13", "5.16", "0.203"),
    ("14", "5.56", "0.219"),
    ("14.5", "5.75", "0.227"),
    ("15", "5.95", "0.234"),
    ("16", "6.35", "0.250"),
    ("17", "6.75", "0.266"),
    ("18", "7.14", "0.281"),
    ("19", "7.54", "0.297"),
    ("20", "7.94", "0.313"),
    ("22", "8.73", "0.344"),
    ("24", "9.53", "0.375"),
)

# Source: derived here: pi / 4 x inside diameter² x length. The wall of 0.45 mm: common practice,
# no source.
LENGTHS = (45, 50, 55, 60, 65)
VOLUMES = (
    (14, ("0.77", "0.85", "0.94", "1.02", "1.11")),
    (15, ("0.90", "1.00", "1.10", "1.20", "1.30")),
    (16, ("1.05", "1.17", "1.28", "1.40", "1.52")),
    (17, ("1.21", "1.34", "1.48", "1.61", "1.75")),
    (18, ("1.38", "1.53", "1.68", "1.84", "1.99")),
    (20, ("1.75", "1.94", "2.14", "2.33", "2.53")),
    (22, ("2.17", "2.41", "2.65", "2.89", "3.13")),
)
VOLUME_CELLS = tuple(
    (size, length, volume)
    for size, row in VOLUMES
    for length, volume in zip(LENGTHS, row, strict=True)
)


def half_up(value: Fraction, places: int) -> str:
    """Return the value rounded as printed tables are: a half goes up."""
    scaled = (value * 10**places + Fraction(1, 2)).__floor__()
    return str(Decimal(scaled).scaleb(-places))


def result_of(**values: int) -> Mapping[str, Any]:
    """Return the result for lengths in nanometres, with the default settings."""
    settings = {setting.name: setting.default for setting in SETTINGS}
    return compute(Inputs(values, spreads={}, settings=settings)).result


@pytest.mark.parametrize(("size", "millimetres", "inches"), SIZES)
def test_diameter_of_each_size(size: str, millimetres: str, inches: str) -> None:
    """A sac number is its outside diameter in 64ths of an inch, in both columns of the table."""
    nanometres = diameter_nanometres(Fraction(size))
    assert half_up(nanometres / NANOMETRES_PER_MILLIMETRE, 2) == millimetres
    assert half_up(nanometres / NANOMETRES_PER_INCH, 3) == inches


@pytest.mark.parametrize("size", [14, 14.5, 18])
def test_a_bore_and_nipple_of_a_size_give_that_size(size: float) -> None:
    """A nipple of exactly n/64 in, in a barrel with just that room, takes an n: 14, 14½ and 18."""
    diameter = round(diameter_nanometres(Fraction(size))) + 1
    result = result_of(
        barrel_bore=diameter + 2 * parse_length("0.9"),
        bar_height=parse_length("0.9"),
        nipple_diameter=diameter,
    )
    assert result["half_size"] == Decimal(str(size))


@pytest.mark.parametrize(("size", "length", "volume"), VOLUME_CELLS)
def test_volume_by_size_and_length(size: int, length: int, volume: str) -> None:
    """The capacity of a sac cut to the table's length is the table's volume, all 35 cells."""
    result = result_of(
        barrel_bore=parse_length("20"),
        bar_height=parse_length("0.9"),
        nipple_diameter=round(diameter_nanometres(size)) + 1,
        barrel_depth=parse_length(length + 14),
        tenon_length=parse_length("10"),
        end_gap=parse_length("4"),
    )
    assert result["size"] == size
    assert result["cut_length"] == parse_length(length)
    assert result["capacity_ml"] == Decimal(volume)


def test_usable_fill_is_a_share_of_the_volume() -> None:
    """A 14 of 45 mm fills 55 to 85 % of its 0.77 ml: common practice, no source."""
    result = result_of(
        barrel_bore=parse_length("20"),
        bar_height=parse_length("0.9"),
        nipple_diameter=round(diameter_nanometres(14)) + 1,
        barrel_depth=parse_length("59"),
        tenon_length=parse_length("10"),
        end_gap=parse_length("4"),
    )
    assert result["expected_fill_ml"] == {"low": Decimal("0.42"), "high": Decimal("0.65")}
