"""Lengths against what is published: the definition of the inch, and pint as another reader.

Pint reads the plain spellings right and is asked there. Two spellings of the bench it misreads
without a word; the last tests state both readings, so that a change on either side is noticed.
"""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewell.measure.length import (
    NANOMETRES_PER_64TH,
    NANOMETRES_PER_INCH,
    NANOMETRES_PER_MILLIMETRE,
    parse_length,
)

UNITS = ("mm", "millimetre", "cm", "centimeter", "in", "inch", "inches", "thou", "um", "µm")

registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)


def nanometres_by_pint(text: str) -> Fraction:
    """Return pint's exact reading of a text with a unit, in nanometres."""
    return Fraction(registry.Quantity(text).to("nanometre").magnitude)


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("number", ["1", "7.1", "0.281", "12.345", "25.4", "0.075", "3"])
def test_plain_spellings_agree_with_pint(number: str, unit: str) -> None:
    """A decimal number with a unit is the same length for pint."""
    assert parse_length(f"{number} {unit}") == round(nanometres_by_pint(f"{number} {unit}"))


@pytest.mark.parametrize("unit", ["micron", "microns", "millimeters", "centimetres"])
def test_written_out_units_agree_with_pint(unit: str) -> None:
    """The names of the units, singular and plural, mean the same for pint."""
    assert parse_length(f"2.5 {unit}") == nanometres_by_pint(f"2.5 {unit}")


@settings(deadline=None)
@given(
    whole=st.integers(min_value=0, max_value=38),
    decimals=st.text("0123456789", min_size=1, max_size=8),
    unit=st.sampled_from(("mm", "cm", "in", "thou", "um")),
)
def test_any_decimal_number_agrees_with_pint(whole: int, decimals: str, unit: str) -> None:
    """Any decimal number is, rounded to the nanometre, the length that pint gives exactly."""
    text = f"{whole}.{decimals} {unit}"
    assert parse_length(text, zero_allowed=True) == round(nanometres_by_pint(text))


@settings(deadline=None)
@given(over=st.integers(min_value=1, max_value=999), under=st.integers(min_value=1, max_value=128))
def test_simple_fractions_agree_with_pint(over: int, under: int) -> None:
    """A simple fraction of a millimetre is the same length for pint."""
    by_pint = nanometres_by_pint(f"{over}/{under} mm")
    assert parse_length(f"{over}/{under} mm") == round(by_pint)


def test_the_inch_is_the_international_inch() -> None:
    """The agreement of 1959 (yard = 0.9144 m) makes the inch 25.4 mm exactly."""
    yard_nanometres = 914_400_000
    assert yard_nanometres == 36 * NANOMETRES_PER_INCH
    assert parse_length("36 in") == yard_nanometres
    assert parse_length("1 in") == parse_length("25.4 mm") == 254 * NANOMETRES_PER_MILLIMETRE // 10
    assert NANOMETRES_PER_INCH == 64 * NANOMETRES_PER_64TH


@pytest.mark.parametrize(
    ("inches", "metric"),
    [
        ("0.075 in", "1.905 mm"),
        ("0.070 in", "1.778 mm"),
        ("0.001 in", "0.0254 mm"),
        ("1 thou", "25.4 µm"),
        ("1/64 in", "0.396875 mm"),
        ("9/32 in", "7.14375 mm"),
        ("15/64 in", "5.953125 mm"),
    ],
)
def test_published_conversions_are_exact(inches: str, metric: str) -> None:
    """Conversions that follow from 25.4 mm are met to the nanometre."""
    assert parse_length(inches) == parse_length(metric)


def test_a_mixed_number_is_not_cut_short() -> None:
    """Pint takes the whole number of 1 1/4 in as a factor; here it is added: 31.75 mm."""
    assert parse_length("1 1/4 in") == 31_750_000
    assert nanometres_by_pint("1 1/4 in") == 6_350_000


def test_a_decimal_comma_is_not_dropped() -> None:
    """Pint drops the comma of 7,1 mm and reads 71 mm; here it is the decimal sign."""
    assert parse_length("7,1 mm") == 7_100_000
    assert nanometres_by_pint("7,1 mm") == 71_000_000
