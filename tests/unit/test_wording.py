"""How numbers are written in sentences, against the same done by way of decimals."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from sparewell.measure.length import length_in_all_units, length_text
from sparewell.measure.wording import millimetres_text, number_text, rounded

RATIONALS = st.fractions(-(10**9), 10**9, max_denominator=10**9)
# Halves of the last place are where rounding goes one way or the other.
HALVES = st.builds(
    Fraction, st.integers(-(10**9), 10**9), st.sampled_from([2, 20, 2000, 2 * 10**6])
)
VALUES = RATIONALS | HALVES


def by_decimals(value: Fraction | Decimal, places: int) -> str:
    """Return a value rounded half-even without trailing zeros, worked out by decimals."""
    with localcontext(prec=100):
        found = Decimal(round(Fraction(value) * 10**places)).scaleb(-places)
    text = f"{found:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@given(value=VALUES, places=st.integers(0, 6))
def test_a_number_is_written_as_decimals_would_have_it(value: Fraction, places: int) -> None:
    """Rounding by whole numbers gives the text, and the number, that decimals give."""
    assert number_text(value, places) == by_decimals(value, places)
    assert rounded(value, places) == Decimal(by_decimals(value, places))
    assert rounded(value, places).as_tuple().exponent == -places


@given(value=st.decimals(-(10**9), 10**9, places=8), places=st.integers(0, 6))
def test_a_decimal_is_written_like_the_fraction_it_equals(value: Decimal, places: int) -> None:
    """A decimal goes by its exact value, too."""
    assert number_text(value, places) == by_decimals(value, places)


@given(nanometres=st.integers(-(10**9), 10**9) | st.integers(-1500, 1500) | VALUES)
def test_millimetres_are_written_as_decimals_would_have_them(nanometres: int | Fraction) -> None:
    """To the micrometre, or to the nanometre where that would show nothing but zero."""
    exact = Fraction(nanometres) / 10**6
    text = by_decimals(exact, 3)
    if exact and text in {"0", "-0"}:
        text = by_decimals(exact, 6)
    assert millimetres_text(nanometres) == f"{text} mm"


@given(nanometres=st.integers(-(10**9), 10**9))
def test_a_length_is_written_exactly_in_millimetres(nanometres: int) -> None:
    """Every nanometre shows, in inches and sixty-fourths as many places as are needed to see it."""
    assert length_text(nanometres) == f"{by_decimals(Fraction(nanometres, 10**6), 6)} mm"
    inches = Fraction(nanometres, 25_400_000)
    parts = Fraction(nanometres, 396_875)
    places = next(each for each in range(3, 12) if not inches or round(inches * 10**each))
    finer = next(each for each in range(2, 12) if not parts or round(parts * 10**each))
    assert length_in_all_units(nanometres) == (
        f"{length_text(nanometres)} = {by_decimals(inches, places)} in = "
        f"{by_decimals(parts, finer)}/64 in"
    )
