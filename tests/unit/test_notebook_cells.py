"""What people write in cells and over columns, and what is made of it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.errors import Impossible
from sparewell.extend.host import Declarations
from sparewell.imports.cells import (
    CellRefused,
    Manner,
    neutralised,
    plain,
    read_day,
    read_length,
    read_list,
    read_made_on,
    read_money,
    read_pieces,
    value_of,
)
from sparewell.imports.mapping import bare, find_header, guess_columns, recognised, unit_in
from sparewell.imports.sheets import column_letter, read_sheet
from sparewell.imports.targets import KINDS_OF_FILE, targets_of
from sparewell.measure.length import parse_length

PLAIN = Manner()


@given(st.text())
def test_a_harmless_text_comes_back_as_it_was(text: str) -> None:
    """Whatever the text, what leaves is no formula, and what comes back is the text."""
    out = neutralised(text)
    assert plain(out) == text
    assert not out.startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-03-01", "2026-03-01"),
        ("2026/3/1", "2026-03-01"),
        ("2026-03-01 00:00:00", "2026-03-01"),
        ("1.3.2026", "2026-03-01"),
        ("01. 03. 2026", "2026-03-01"),
        ("25/03/2026", "2026-03-25"),
        ("03/25/2026", "2026-03-25"),
        ("03/03/2026", "2026-03-03"),
        ("1 March 2026", "2026-03-01"),
        ("1st Mar 2026", "2026-03-01"),
        ("March 1, 2026", "2026-03-01"),
        ("Sept. 30, 2025", "2025-09-30"),
    ],
)
def test_days_are_read_as_people_write_them(text: str, day: str) -> None:
    """Each spelling that can mean one day only is that day."""
    assert read_day(text, PLAIN) == day


@pytest.mark.parametrize(
    "text",
    ["03/04/2025", "3-4-2025", "1.3.26", "31.2.2026", "spring", "1/2/3", "1 Ma 2026", "1700-01-01"],
)
def test_days_that_may_be_others_are_refused(text: str) -> None:
    """What can be read in two ways, or in none, is refused with what would be accepted."""
    with pytest.raises(CellRefused) as refused:
        read_day(text, PLAIN)
    assert refused.value.accepted


def test_an_order_of_dates_decides_what_is_open_and_nothing_else() -> None:
    """Told that the month stands first, 03/04 is in March, and 25/03 is still in March."""
    assert read_day("03/04/2025", Manner(dates="month_first")) == "2025-03-04"
    assert read_day("03/04/2025", Manner(dates="day_first")) == "2025-04-03"
    assert read_day("25/03/2025", Manner(dates="month_first")) == "2025-03-25"


@pytest.mark.parametrize(
    ("text", "made_on"),
    [
        ("March 2026", "2026-03"),
        ("3.4.2026", "2026-04-03"),
        ("Q1 2026", "Q1 2026"),
        ("2026", "2026"),
    ],
)
def test_making_dates_keep_how_exact_they_are(text: str, made_on: str) -> None:
    """A month stays a month; quarters and years are left to those who know them."""
    assert read_made_on(text, PLAIN) == made_on


@pytest.mark.parametrize(("text", "pieces"), [("12", 12), ("12.0", 12), ("4 pcs", 4), ("3x", 3)])
def test_numbers_of_pieces_are_whole(text: str, pieces: int) -> None:
    """A number may have a word for pieces behind it."""
    assert read_pieces(text, PLAIN) == pieces


@pytest.mark.parametrize("text", ["a few", "~12", "1.5", "1,000", "-3", "5 or 6", "5 packs of 2"])
def test_what_is_no_number_of_pieces_is_refused(text: str) -> None:
    """Nothing is rounded and nothing is guessed."""
    with pytest.raises(CellRefused):
        read_pieces(text, PLAIN)


@pytest.mark.parametrize(
    ("text", "unit", "millimetres"),
    [
        ("5,9", "mm", "5.9"),
        ("15", "64ths", "5.953125"),
        ("15.5", "64ths", "6.151562"),
        ("0.25", "in", "6.35"),
        ("1/4", "in", "6.35"),
        ('1/4"', "mm", "6.35"),
        ("7.1 mm", "in", "7.1"),
        ("250", "thou", "6.35"),
        ("5.9", None, "5.9"),
    ],
)
def test_the_unit_of_a_cell_goes_before_that_of_its_header(
    text: str, unit: str | None, millimetres: str
) -> None:
    """A bare figure takes the header's unit; a length with a unit of its own keeps it."""
    assert parse_length(read_length(text, Manner(unit))) == parse_length(f"{millimetres} mm")


def test_amounts_lose_the_sign_of_their_currency_and_lists_their_commas() -> None:
    """One workshop has one currency; kinds are told apart by commas, strokes and "and"."""
    assert read_money("€ 8,50", PLAIN) == "8,50"
    assert read_money("8.50 GBP", PLAIN) == "8.50"
    assert read_list("cap, clip/nib and feed", PLAIN) == ["cap", "clip", "nib", "feed"]


def test_a_formula_is_refused_and_its_neutralised_text_is_not() -> None:
    """What begins with = is no value; with an apostrophe before it, it is a text."""
    with pytest.raises(CellRefused):
        value_of("=A1", lambda text, _: text, PLAIN)
    assert value_of("'=A1", lambda text, _: text, PLAIN) == "=A1"


@pytest.mark.parametrize(
    ("header", "spoken", "unit"),
    [
        ("OD (mm)", "od", "mm"),
        ("outside dia (mm)", "outside dia", "mm"),
        ("OD in 64ths", "od", "64ths"),
        ('Length "', "length", "in"),
        ("Length [in]", "length", "in"),
        ("Drawer/Box", "drawer box", None),
        ("No. of pieces", "no pieces", None),
        ("(mm)", "mm", "mm"),
    ],
)
def test_a_header_is_compared_without_its_unit(header: str, spoken: str, unit: str | None) -> None:
    """What is left is the word; the unit is told apart."""
    assert (bare(header), unit_in(header)) == (spoken, unit)


def test_columns_have_the_letters_of_a_spreadsheet() -> None:
    """Behind Z comes AA, behind ZZ comes AAA."""
    assert [column_letter(each) for each in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]


@pytest.mark.parametrize("of", KINDS_OF_FILE)
def test_every_field_is_guessed_from_its_own_name_and_words(
    of: str, declared: Declarations
) -> None:
    """A column headed with a field's name is taken as that field; each word leads to some field."""
    targets = targets_of(of, declared)
    for target in targets.values():
        columns = guess_columns([[target.name, "zzz"], ["1", "1"]], 0, targets)
        assert columns[0].field == target.name
        for word in target.words:
            assert recognised([[word]], targets) == 1


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [
        ("part;qty;od\nA;1;5,9\nB;2;6,1\n", "semicolon"),
        ("part,qty,od\nA,1,5.9\n", "comma"),
        ("part\tqty\tod, measured\nA\t1\t5,9\n", "tab"),
        ("\ufeffpart;drawer\r\nA;B, left\r\n", "semicolon"),
    ],
)
def test_what_divides_cells_is_found_out(text: str, delimiter: str, declared: Declarations) -> None:
    """Decimal commas and commas in texts do not mislead."""
    targets = targets_of("lots", declared)
    sheet = read_sheet(text.encode(), None, lambda rows: recognised(rows, targets))
    assert f"cells are divided by the {delimiter}" in sheet.notices
    assert find_header(sheet.rows, targets, None) == 0
    assert sheet.rows[0][0] == "part"


def test_a_column_that_counts_its_rows_is_no_measure(declared: Declarations) -> None:
    """A column headed ID whose cells are 1, 2, 3 is left alone, one with sizes is not."""
    targets = targets_of("lots", declared)
    counted = guess_columns([["ID"], ["1"], ["2"], ["3"]], 0, targets)
    sized = guess_columns([["ID"], ["5.1"], ["5.2"], ["5.3"]], 0, targets)
    assert [counted[0].field, sized[0].field] == [None, "measured.inside_diameter"]


def test_too_many_rows_or_columns_are_refused() -> None:
    """There is a limit to everything, and the refusal names it."""
    for text, sentence in (("x\n" * 200_001, "200000 rows"), ("x," * 300, "200 columns")):
        with pytest.raises(Impossible, match=sentence):
            read_sheet(text.encode(), None, lambda _: 0)
