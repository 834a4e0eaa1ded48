"""Money: exact amounts, and lots whose total is shared out without losing a penny."""

from __future__ import annotations

import decimal
import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.measure.money import (
    ACCEPTED_MONEY,
    LARGEST_MAJOR,
    MoneyError,
    money_text,
    parse_money,
    shares,
    take_share,
)

LARGEST_MINOR = LARGEST_MAJOR * 100


@pytest.mark.parametrize(
    ("value", "minor"),
    [
        ("8.50", 850),
        ("8,50", 850),
        ("8.5", 850),
        ("8", 800),
        (" 8 ", 800),
        (".05", 5),
        ("0", 0),
        ("007", 700),
        ("1000000000", LARGEST_MINOR),
        (8, 800),
        (0, 0),
        (Decimal("8.5"), 850),
        (Decimal("8.500"), 850),
        (Decimal("1e2"), 10_000),
        (Decimal(-0), 0),
        (Decimal("0e3000000"), 0),
        (Decimal("1000000000.00"), LARGEST_MINOR),
    ],
    ids=repr,
)
def test_amounts_are_read_exactly(value: object, minor: int) -> None:
    """Texts, whole numbers and decimals give whole hundredths."""
    assert parse_money(value) == minor


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("", "is empty"),
        ("  ", "is empty"),
        ("-1", "is negative"),
        ("\N{MINUS SIGN}1", "is negative"),
        ("8.505", "more than two decimals"),
        ("1,234", "more than two decimals"),
        ("1,234.50", "is not an amount"),
        ("8.", "is not an amount"),
        (".", "is not an amount"),
        ("£8.50", "is not an amount"),
        ("1e3", "is not an amount"),
        ("1_000", "is not an amount"),
        ("nan", "is not an amount"),
        ("\N{ARABIC-INDIC DIGIT THREE}", "is not an amount"),
        ("8\n", "is not an amount"),
        ("9" * 40, "above 1000000000"),
        ("9" * 41, "at most 40 characters"),
        ("1000000000.01", "above 1000000000"),
        (-1, "is negative"),
        (Decimal("-0.01"), "is negative"),
        (Decimal("8.505"), "more than two decimals"),
        (Decimal("0.001"), "more than two decimals"),
        (Decimal("1.000000000000000000000000000000000001"), "more than two decimals"),
        (Decimal("1000000000.01"), "above 1000000000"),
        (Decimal("1." + "1" * 5000), "more than 40 digits"),
        (Decimal("NaN"), "not a finite number"),
        (Decimal("sNaN"), "not a finite number"),
        (Decimal("-Infinity"), "not a finite number"),
        (True, "not the type bool"),
        (8.5, "not the type float"),
        (float("nan"), "not the type float"),
        (None, "not the type NoneType"),
        ([], "not the type list"),
    ],
    ids=ascii,
)
def test_what_is_no_amount_is_refused(value: object, reason: str) -> None:
    """Each refusal says what was wrong and ends with what is accepted."""
    with pytest.raises(MoneyError, match=reason) as refusal:
        parse_money(value)
    assert str(refusal.value).endswith(ACCEPTED_MONEY)


@pytest.mark.parametrize(
    "value",
    [Decimal("1e3000000"), Decimal("-1e3000000"), Decimal("1e-3000000"), 10**5000, -(10**5000)],
    ids=["large", "negative", "small", "int", "negative int"],
)
def test_huge_amounts_are_refused_at_once(value: object) -> None:
    """A number of millions of digits is refused before it is written out."""
    started = time.perf_counter()
    with pytest.raises(MoneyError):
        parse_money(value)
    assert time.perf_counter() - started < 0.5


def test_the_precision_of_decimal_arithmetic_does_not_matter() -> None:
    """An amount is exact whatever precision the calling thread has set."""
    with decimal.localcontext(prec=2):
        assert parse_money(Decimal("123456.78")) == 12_345_678


@given(st.integers(min_value=0, max_value=LARGEST_MINOR))
def test_printed_amounts_are_read_back(minor: int) -> None:
    """The text of any amount gives the same amount again, also as a JSON number."""
    assert parse_money(money_text(minor)) == minor
    assert parse_money(Decimal(money_text(minor))) == minor


def test_amounts_are_printed_with_two_decimals() -> None:
    """Amounts show both decimals, and a difference shows its sign once."""
    assert [money_text(minor) for minor in (850, 5, 0, -5, -850)] == [
        *("8.50", "0.05", "0.00", "-0.05", "-8.50")
    ]


@given(st.text() | st.text("0123456789.,- ", max_size=20))
def test_any_text_is_an_amount_or_a_refusal(text: str) -> None:
    """Whatever the text, the answer is an amount within the limits or MoneyError."""
    try:
        minor = parse_money(text)
    except MoneyError:
        return
    assert 0 <= minor <= LARGEST_MINOR


@given(
    total=st.integers(min_value=0, max_value=LARGEST_MINOR),
    takes=st.lists(st.integers(min_value=0, max_value=20), min_size=1, max_size=30),
)
def test_any_sequence_of_takes_adds_up_to_the_total(total: int, takes: list[int]) -> None:
    """Taking a lot apart in any steps gives out exactly its total, and never more."""
    pieces, left = sum(takes) + 1, total
    shares = []
    for taken in [*takes, 1]:
        share = take_share(left, pieces, taken)
        assert 0 <= share <= left
        shares.append(share)
        left, pieces = left - share, pieces - taken
    assert (left, pieces) == (0, 0)
    assert sum(shares) == total


@given(
    total=st.integers(min_value=0, max_value=LARGEST_MINOR),
    pieces=st.integers(min_value=1, max_value=500),
)
def test_pieces_taken_one_by_one_cost_nearly_the_same(total: int, pieces: int) -> None:
    """Taken one by one, no two pieces of a lot differ by more than one hundredth."""
    left, shares = total, []
    for remaining in range(pieces, 0, -1):
        shares.append(take_share(left, remaining, 1))
        left -= shares[-1]
    assert max(shares) - min(shares) <= 1


def test_the_last_piece_takes_the_remainder() -> None:
    """Three pieces that cost 10.00 together are taken at 3.33, 3.33 and 3.34."""
    assert [take_share(1000, 3, 1), take_share(667, 2, 1), take_share(334, 1, 1)] == [333, 333, 334]


@pytest.mark.parametrize(
    ("total", "pieces", "taken"), [(100, 3, 4), (100, 3, -1), (100, 0, 0), (-1, 3, 1)]
)
def test_pieces_that_are_not_there_cannot_be_taken(total: int, pieces: int, taken: int) -> None:
    """More than there is, less than none, and negative totals are errors of the caller."""
    with pytest.raises(ValueError, match=r"cannot be taken|not negative"):
        take_share(total, pieces, taken)


@given(st.integers(0, 10**12), st.lists(st.integers(0, 10**9), min_size=1, max_size=40).filter(any))
def test_shares_add_up_and_none_is_a_unit_off(total: int, weights: list[int]) -> None:
    """Whatever is divided by whatever weights, nothing is lost, and each share is the exact one."""
    found = shares(total, weights)
    assert sum(found) == total
    for share, weight in zip(found, weights, strict=True):
        assert abs(share * sum(weights) - total * weight) < sum(weights)
        assert share >= 0


@pytest.mark.parametrize(("total", "weights"), [(1, []), (1, [0, 0]), (1, [2, -1]), (-1, [1])])
def test_what_cannot_be_divided_is_refused(total: int, weights: list[int]) -> None:
    """By nothing, by weights of nothing, or of less than nothing."""
    with pytest.raises(ValueError, match="cannot be divided"):
        shares(total, weights)
