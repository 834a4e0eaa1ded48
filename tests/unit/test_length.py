"""Lengths: every spelling of the bench, every refusal, and exact arithmetic in between."""

from __future__ import annotations

import time
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sparewell.measure.length import (
    ACCEPTED_LENGTHS,
    LONGEST_NANOMETRES,
    LONGEST_TEXT_CHARACTERS,
    NANOMETRES_PER_64TH,
    NANOMETRES_PER_INCH,
    NANOMETRES_PER_MILLIMETRE,
    LengthError,
    length_in_all_units,
    length_text,
    likely_slip,
    millimetres,
    parse_length,
    sixty_fourths,
)

MM = NANOMETRES_PER_MILLIMETRE
nanometres_of_a_length = st.integers(min_value=1, max_value=LONGEST_NANOMETRES)
# Characters that lengths are made of, so that the fuzzing reaches the later steps of the parser.
length_characters = st.sampled_from(
    "0123456789.,/ -+e½¼⅓\"'″”\u2019\u2044\u2212µμmincthouMIN\xa0\u2009\x00٣"
)

SPELLINGS = {
    7_143_750: [
        *("9/32 in", '9/32"', "9 / 32 in", "9\N{FRACTION SLASH}32 in", "18/64 inch", '18/64"'),
    ],
    7_137_400: ["0.281 in", ".281 in", "0,281 in"],
    31_750_000: ["1 1/4 in", "1  1/4 in", '1-1/4"', "1\N{NON-BREAKING HYPHEN}1/4 in", "5/4 in"],
    12_700_000: ["½ in", "½ IN."],
    38_100_000: ["1½\N{DOUBLE PRIME}", "1 ½ in", "1-½ in"],
    292_100_000: ["11½ in"],
    19_050_000: ["¾ in"],
    3_175_000: ["⅛\N{RIGHT DOUBLE QUOTATION MARK}"],
    9_525_000: ["⅜\N{LEFT DOUBLE QUOTATION MARK}"],
    15_875_000: ["⅝''"],
    22_225_000: ["⅞\N{RIGHT SINGLE QUOTATION MARK}\N{RIGHT SINGLE QUOTATION MARK}"],
    8_466_667: ["⅓ in"],
    16_933_333: ["⅔ in"],
    50_800_000: ["2 Inches"],
    0: ["0/4 in"],
    1_778_000: ["70 thou", "70thou"],
    7_100_000: [
        *("7.1 mm", "7,1 mm", "7.1mm", "  7.1 mm ", "7.1\N{NO-BREAK SPACE}mm"),
        *("7.1\N{THIN SPACE}mm", "7.1\N{NARROW NO-BREAK SPACE}MM", "7.1 mm.", "7.1", "7,1"),
    ],
    60_000_000: ["60", "060.00"],
    500_000: [",5 mm", "1/2 mm"],
    1_234_000: ["1,234 mm"],
    3_000_000: ["3 millimetres", "3 Millimeter"],
    7_000_000: ["0,7 cm"],
    10_000_000: ["1 centimetre"],
    250_000: ["250 \N{MICRO SIGN}m", "250 \N{GREEK SMALL LETTER MU}m", "250 um", "250 µM"],
    1_000: ["1 micron"],
    2_500: ["2.5 microns", "2,5 micrometres"],
    1_000_000_000: ["1000 mm", "100 cm"],
}

REFUSALS = {
    "is empty": ["", "   ", "\N{NO-BREAK SPACE}"],
    "does not begin with a number": ["mm", "M3", "nan", "inf", "infinity mm", "+5 mm", '"5'],
    "more than one decimal sign": ["7.1.2", "1,234,5"],
    "a point and a comma": ["1,234.5 mm", "1.234,5 mm"],
    "more than one number": ["1 2 mm", "5-6 mm", "1 234 567 µm"],
    "mixes a decimal number with a fraction": ["1.5 1/4 in", "1.1/4 in", "15.5/32 in", "1.5½ in"],
    "divides by zero": ["3/0 in", "1 3/0 in"],
    "a fraction of one or more": ["1 5/4 in"],
    "no number that can be read": [
        *("1/2/3 in", "½5 in", "1/½ in", "½¼ in", "1 - 1/4 in"),
        *("7. mm", "--1 mm", ". mm", "- mm"),
    ],
    "only the digits 0 to 9": [
        "\N{ARABIC-INDIC DIGIT THREE} mm",
        "\N{FULLWIDTH DIGIT SEVEN} mm",
        "7² mm",
    ],
    "power of ten": ["1e3 mm", "1E-3", "1e+3"],
    "'ft', which is no known unit": ["5 ft"],
    "no known unit": [
        *("5'", "5 furlongs", "5 m", "5 nm", "5 mm mm", '5""', "0x10", "1_000", "9**9**9 mm"),
    ],
    "write thou or mm": ["281 mil", "281 mils"],
    "add in or mm": ["18/64", "½", "1 1/4"],
    "thousands or as decimals": ["1,500 µm", "1,500 thou"],
    "is negative": ["-1 mm", "\N{MINUS SIGN}1 mm", "-1/4 in"],
    "is zero": ["0", "-0 mm"],
    "rounds to zero nanometres": ["0.0000001 mm", "0.0000005 mm"],
    "longer than one metre": ["1000.0000001", "40 in", "9" * LONGEST_TEXT_CHARACTERS],
    "at most 40 characters": ["9" * (LONGEST_TEXT_CHARACTERS + 1)],
    "has the character": [
        *("5\x00mm", "5\tmm", "5 mm\n", "5\N{ZERO WIDTH SPACE}mm", "\ud800"),
        *("5 \N{GREEK CAPITAL LETTER MU}M", "5 \N{KELVIN SIGN}m"),
    ],
}

HUGE_NUMBERS = {
    "decimal": (Decimal("1e3000000"), "longer than one metre"),
    "negative decimal": (Decimal("-1e3000000"), "is negative"),
    "tiny decimal": (Decimal("1e-3000000"), "rounds to zero nanometres"),
    "zero with exponent": (Decimal("0e3000000"), "is zero"),
    "many digits": (Decimal("1." + "1" * 5000), "more than 40 digits"),
    "int": (10**5000, "longer than one metre"),
    "negative int": (-(10**5000), "is negative"),
    "fraction": (Fraction(10**5000, 3), "longer than one metre"),
    "fine fraction": (Fraction(1, 10**5000), "more than 40 digits"),
    "float": (1e300, "longer than one metre"),
    "tiny float": (1e-300, "rounds to zero nanometres"),
}


@pytest.mark.parametrize(
    ("text", "nanometres"),
    [(text, nanometres) for nanometres, texts in SPELLINGS.items() for text in texts],
    ids=repr,
)
def test_every_spelling_is_read_exactly(text: str, nanometres: int) -> None:
    """Each spelling that restorers use gives the exact nanometres."""
    assert parse_length(text, zero_allowed=True) == nanometres


@pytest.mark.parametrize(
    ("text", "reason"),
    [(text, reason) for reason, texts in REFUSALS.items() for text in texts],
    ids=ascii,
)
def test_every_refusal_says_why_and_what_is_accepted(text: str, reason: str) -> None:
    """Each text that is no length is refused with its own reason and the accepted list."""
    with pytest.raises(LengthError) as refusal:
        parse_length(text)
    message = str(refusal.value)
    assert reason in message
    assert message.endswith(f". {ACCEPTED_LENGTHS}")


@pytest.mark.parametrize("space", [chr(0xA0), *map(chr, range(0x2002, 0x200B)), chr(0x202F)])
def test_every_kind_of_space_may_stand_before_the_unit(space: str) -> None:
    """No-break, thin and the other typographic spaces are read as a space."""
    assert parse_length(f"1{space}1/4{space}in") == 31_750_000


@pytest.mark.parametrize(
    ("value", "nanometres"),
    [
        (60, 60_000_000),
        (1000, LONGEST_NANOMETRES),
        (7.1, 7_100_000),
        (0.1, 100_000),
        (1e-6, 1),
        (Decimal("7.10"), 7_100_000),
        (Decimal("1e1"), 10_000_000),
        (Decimal("1.000000000000000000000000000000000001"), 1_000_000),
        (Fraction(1, 3), 333_333),
    ],
)
def test_numbers_are_millimetres(value: object, nanometres: int) -> None:
    """Numbers are millimetres, and a float counts as the decimal number that it shows."""
    assert parse_length(value) == nanometres


@pytest.mark.parametrize(
    "value",
    [
        *(True, False, None, [], [5], {}, {"value": 5}, b"5 mm", 5j, object),
        *(float("nan"), float("inf"), float("-inf")),
        *(Decimal("NaN"), Decimal("sNaN"), Decimal("Infinity"), Decimal("-Infinity")),
        *(0, -5, 0.0, -0.0, 1001, Decimal("1000.0000001"), Fraction(-1, 3)),
    ],
    ids=repr,
)
def test_other_values_are_refused(value: object) -> None:
    """Values that are neither numbers nor texts, or no lengths, are refused with the list."""
    with pytest.raises(LengthError, match="Accepted are"):
        parse_length(value)


@pytest.mark.parametrize(("value", "reason"), HUGE_NUMBERS.values(), ids=HUGE_NUMBERS.keys())
def test_huge_numbers_are_refused_at_once(value: object, reason: str) -> None:
    """A number of millions of digits is refused before it is written out."""
    started = time.perf_counter()
    with pytest.raises(LengthError, match=reason) as refusal:
        parse_length(value)
    assert time.perf_counter() - started < 0.5
    assert len(str(refusal.value)) < 500


@pytest.mark.parametrize(
    "value",
    [
        *(0, 0.0, -0.0, Decimal("-0"), Decimal("0e3000000"), Decimal("0e-3000000")),
        *("0", "-0", "0 mm", "0,0", "0/4 in", "0.0000001 mm", 1e-300, Decimal("1e-3000000")),
    ],
    ids=repr,
)
def test_zero_is_a_length_where_it_is_allowed(value: object) -> None:
    """With zero allowed, every zero and every trace that rounds to zero is zero."""
    assert parse_length(value, zero_allowed=True) == 0


@pytest.mark.parametrize("value", [-1, "-1 mm", "-0.0000001", Decimal("-1e-3000000"), -1e-300])
def test_negative_lengths_are_refused_even_where_zero_is_allowed(value: object) -> None:
    """Allowing zero does not allow less than zero, however little less."""
    with pytest.raises(LengthError, match="is negative"):
        parse_length(value, zero_allowed=True)


@pytest.mark.parametrize(
    ("text", "nanometres"),
    [("1/128 in", 198_438), ("3/128 in", 595_312), ("0.0000015", 2), ("0.0000025", 2)],
)
def test_halves_round_to_the_even_nanometre(text: str, nanometres: int) -> None:
    """Exactly half a nanometre goes to the even neighbour."""
    assert parse_length(text) == nanometres


@given(nanometres_of_a_length)
def test_printed_lengths_are_read_back(nanometres: int) -> None:
    """The text and the JSON number of any length give the same length again."""
    assert parse_length(length_text(nanometres)) == nanometres
    assert parse_length(millimetres(nanometres)) == nanometres
    assert parse_length(Decimal(repr(millimetres(nanometres)))) == nanometres


@given(st.integers(min_value=1, max_value=2519))
def test_sixty_fourths_are_whole_nanometres(parts: int) -> None:
    """Every n/64 inch up to a metre is exactly n times 396 875 nanometres."""
    whole, rest = divmod(parts, 64)
    assert parse_length(f"{parts}/64 in") == parts * NANOMETRES_PER_64TH
    if whole and rest:
        assert parse_length(f'{whole}-{rest}/64"') == parts * NANOMETRES_PER_64TH
    assert sixty_fourths(parts * NANOMETRES_PER_64TH) == parts


@given(
    whole=st.integers(min_value=0, max_value=999),
    decimals=st.text("0123456789", min_size=1, max_size=20),
    sign=st.sampled_from(".,"),
)
def test_decimal_millimetres_equal_exact_fractions(whole: int, decimals: str, sign: str) -> None:
    """A decimal text, and its JSON number, give what exact rational arithmetic gives."""
    exact = Fraction(f"{whole}.{decimals}") * MM
    assert parse_length(f"{whole}{sign}{decimals} mm", zero_allowed=True) == round(exact)
    assert parse_length(Decimal(f"{whole}.{decimals}"), zero_allowed=True) == round(exact)


@given(
    whole=st.integers(min_value=1, max_value=30),
    over=st.integers(min_value=1, max_value=999),
    more=st.integers(min_value=1, max_value=999),
)
def test_mixed_numbers_equal_exact_fractions(whole: int, over: int, more: int) -> None:
    """A whole number with a fraction behind it is their sum, whichever way they are joined."""
    exact = round((whole + Fraction(over, over + more)) * NANOMETRES_PER_INCH)
    assert parse_length(f"{whole} {over}/{over + more} in") == exact
    assert parse_length(f'{whole}-{over}/{over + more}"') == exact


@given(st.text() | st.text(length_characters, max_size=LONGEST_TEXT_CHARACTERS))
@example("1" * 39 + "/")
@example("1/" * 20)
@example("-" * 40)
def test_any_text_is_a_length_or_a_refusal(text: str) -> None:
    """Whatever the text, the answer is a length of a piece or LengthError, and nothing else."""
    try:
        nanometres = parse_length(text)
    except LengthError as refusal:
        assert str(refusal).endswith(ACCEPTED_LENGTHS)  # noqa: PT017 - both outcomes are right
    else:
        assert type(nanometres) is int
        assert 0 < nanometres <= LONGEST_NANOMETRES


@given(
    st.integers()
    | st.floats()
    | st.decimals()
    | st.fractions()
    | st.recursive(st.none() | st.booleans() | st.binary(), st.lists),
    st.booleans(),
)
def test_any_value_is_a_length_or_a_refusal(value: object, zero_allowed: bool) -> None:  # noqa: FBT001
    """Whatever the value, the answer is a length of a piece or LengthError, and nothing else."""
    try:
        nanometres = parse_length(value, zero_allowed=zero_allowed)
    except LengthError as refusal:
        assert str(refusal).endswith(ACCEPTED_LENGTHS)  # noqa: PT017 - both outcomes are right
    else:
        assert (0 if zero_allowed else 1) <= nanometres <= LONGEST_NANOMETRES


@pytest.mark.parametrize(
    ("nanometres", "text"),
    [
        (6_400_000, "6.4 mm = 0.252 in = 16.13/64 in"),
        (7_143_750, "7.14375 mm = 0.281 in = 18/64 in"),
        (25_400_000, "25.4 mm = 1 in = 64/64 in"),
        (317_500, "0.3175 mm = 0.012 in = 0.8/64 in"),
        (342_900, "0.3429 mm = 0.014 in = 0.86/64 in"),
        (1_000, "0.001 mm = 0.00004 in = 0.003/64 in"),
        (0, "0 mm = 0 in = 0/64 in"),
        (-200_000, "-0.2 mm = -0.008 in = -0.5/64 in"),
    ],
)
def test_a_length_is_shown_in_all_units(nanometres: int, text: str) -> None:
    """Halves round to even, no zeros trail, and a small length is never shown as zero."""
    assert length_in_all_units(nanometres) == text


def test_a_usual_length_gives_no_warning() -> None:
    """A length inside the usual bounds, or on one of them, is not remarked on."""
    for nanometres in (3 * MM, 4 * MM, 5 * MM):
        assert likely_slip(nanometres, 3 * MM, 5 * MM, name="bore") is None


@pytest.mark.parametrize(
    ("typed", "low", "high", "meant"),
    [
        ("0.65", "5", "10", "6.5 mm"),
        ("6.5", "0.3", "1.5", "0.65 mm"),
        ("0.281", "5", "10", "0.281 in"),
        ("6.4 in", "5", "10", "6.4 mm"),
        ("18", "5", "10", "18/64 in"),
        ("0.3", "2", "10", "3 mm"),
    ],
)
def test_a_slip_is_guessed(typed: str, low: str, high: str, meant: str) -> None:
    """The likeliest reading that lands inside the usual bounds is offered."""
    warning = likely_slip(parse_length(typed), parse_length(low), parse_length(high))
    shown = length_text(parse_length(typed))
    assert warning == f"{shown} is outside the usual {low} mm to {high} mm: did you mean {meant}?"


def test_a_slip_names_what_was_measured() -> None:
    """The warning begins with the name of the reading when there is one."""
    assert likely_slip(6_500_000, 300_000, 1_500_000, name="thickness") == (
        "thickness of 6.5 mm is outside the usual 0.3 mm to 1.5 mm: did you mean 0.65 mm?"
    )


def test_no_guess_is_made_where_none_fits() -> None:
    """An unusual length that no slip explains is remarked on without a guess."""
    assert likely_slip(900 * MM, 5 * MM, 8 * MM, name="bore") == (
        "bore of 900 mm is outside the usual 5 mm to 8 mm."
    )
    assert likely_slip(0, 1, 8 * MM) == "0 mm is outside the usual 0.000001 mm to 8 mm."


def test_crossed_bounds_are_an_error_of_the_caller() -> None:
    """Bounds the wrong way round are refused instead of warning about everything."""
    with pytest.raises(ValueError, match="crossed"):
        likely_slip(1, 3, 2)


@given(nanometres_of_a_length, nanometres_of_a_length, nanometres_of_a_length)
def test_a_guess_is_itself_usual(nanometres: int, one: int, other: int) -> None:
    """Whatever is guessed can be read back and lies inside the usual bounds."""
    low, high = sorted((one, other))
    warning = likely_slip(nanometres, low, high)
    assert (warning is None) == (low <= nanometres <= high)
    if warning is not None and "did you mean " in warning:
        guess = warning.split("did you mean ")[1].removesuffix("?")
        assert low <= parse_length(guess) <= high


@pytest.mark.parametrize("text", ["15.5/64 in", "15,5/64 in", '15½/64"', "15½ / 64 in"])
def test_half_sizes_are_read_in_64ths(text: str) -> None:
    """A half size over 64, as sacs are numbered, is read exactly: 31/128 in."""
    assert parse_length(text) == parse_length("31/128 in")
