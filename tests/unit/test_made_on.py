"""Making dates: a day, a month, a quarter, a year or unknown, each as the days it may mean."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewell.measure.made_on import (
    ACCEPTED_MADE_ON,
    EARLIEST_YEAR,
    LATEST_YEAR,
    MadeOn,
    MadeOnError,
    add_years,
    parse_made_on,
)

years = st.integers(min_value=EARLIEST_YEAR, max_value=LATEST_YEAR)
FIRST_QUARTER = MadeOn("2026-Q1", date(2026, 1, 1), date(2026, 3, 31))


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("2026-03-01", MadeOn("2026-03-01", date(2026, 3, 1), date(2026, 3, 1))),
        (" 2026-03-01 ", MadeOn("2026-03-01", date(2026, 3, 1), date(2026, 3, 1))),
        (date(2026, 3, 1), MadeOn("2026-03-01", date(2026, 3, 1), date(2026, 3, 1))),
        ("2024-02", MadeOn("2024-02", date(2024, 2, 1), date(2024, 2, 29))),
        ("2026-12", MadeOn("2026-12", date(2026, 12, 1), date(2026, 12, 31))),
        ("2026-Q4", MadeOn("2026-Q4", date(2026, 10, 1), date(2026, 12, 31))),
        ("2026", MadeOn("2026", date(2026, 1, 1), date(2026, 12, 31))),
        (2026, MadeOn("2026", date(2026, 1, 1), date(2026, 12, 31))),
        ("1880", MadeOn("1880", date(1880, 1, 1), date(1880, 12, 31))),
        ("2100-12-31", MadeOn("2100-12-31", date(2100, 12, 31), date(2100, 12, 31))),
    ],
)
def test_a_making_date_is_the_days_it_may_mean(value: object, expected: MadeOn) -> None:
    """A day, month, quarter or year gives its first and last day and its normal text."""
    assert parse_made_on(value) == expected


@pytest.mark.parametrize(
    "text",
    ["2026-Q1", "2026-q1", "2026Q1", "2026 Q1", "Q1 2026", "q1-2026", "1Q2026", "1q 2026"],
)
def test_every_spelling_of_a_quarter_has_one_normal_text(text: str) -> None:
    """The spellings found on packets give the same quarter."""
    assert parse_made_on(text) == FIRST_QUARTER


@pytest.mark.parametrize("value", [None, "", "  ", "unknown", "Unknown", " UNKNOWN "], ids=repr)
def test_unknown_is_none(value: object) -> None:
    """Nothing, an empty text and the word itself mean that it is not known."""
    assert parse_made_on(value) is None


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("1/26", "more than one way"),
        ("03/26", "more than one way"),
        ("1Q26", "more than one way"),
        ("Q1 26", "more than one way"),
        ("2026-13", "month 13"),
        ("2026-00", "month 0"),
        ("2026-02-29", "no day 2026-02-29"),
        ("2026-13-01", "no day 2026-13-01"),
        ("2026-Q5", "no quarter 5"),
        ("0Q2026", "no quarter 0"),
        ("1879", "between 1880 and 2100"),
        ("2101-01-01", "between 1880 and 2100"),
        ("0000-Q1", "between 1880 and 2100"),
        (2101, "between 1880 and 2100"),
        (10**5000, "between 1880 and 2100"),
        ("2026-3-1", "is not a making date"),
        ("20260301", "is not a making date"),
        ("01.03.2026", "is not a making date"),
        ("March 2026", "is not a making date"),
        ("2026-03-01T00:00", "is not a making date"),
        ("-2026", "is not a making date"),
        ("٢٠٢٦", "is not a making date"),
        ("2026\x00", "is not a making date"),
        ("2" * 41, "at most 40 characters"),
        (True, "not the type bool"),
        (2026.0, "not the type float"),
        ([], "not the type list"),
        (datetime(2026, 3, 1, tzinfo=UTC), "not the type datetime"),
    ],
    ids=lambda value: "huge" if value == 10**5000 else ascii(value),
)
def test_what_is_no_making_date_is_refused(value: object, reason: str) -> None:
    """Each refusal says what was wrong and ends with what is accepted."""
    with pytest.raises(MadeOnError, match=reason) as refusal:
        parse_made_on(value)
    assert str(refusal.value).endswith(ACCEPTED_MADE_ON)


@given(years, st.integers(min_value=1, max_value=12))
def test_normal_texts_are_read_back(year: int, number: int) -> None:
    """The normal text of a month, quarter or year gives the same value again."""
    quarter = (number + 2) // 3
    for text in (f"{year}-{number:02d}", f"{year}-Q{quarter}", f"{year}"):
        made_on = parse_made_on(text)
        assert made_on is not None
        assert made_on.text == text
        assert made_on.earliest <= date(year, number, 1) <= made_on.latest


@given(years)
def test_the_quarters_fill_the_year(year: int) -> None:
    """Each quarter begins on the day after the one before it ends, and four are the year."""
    quarters = [parse_made_on(f"{number}Q{year}") for number in (1, 2, 3, 4)]
    ends = date(year - 1, 12, 31)
    for quarter in quarters:
        assert quarter is not None
        assert quarter.earliest == ends + timedelta(days=1)
        ends = quarter.latest
    assert ends == date(year, 12, 31)


@given(st.dates(min_value=date(EARLIEST_YEAR, 1, 1), max_value=date(LATEST_YEAR, 12, 31)))
def test_every_day_is_its_own_span(day: date) -> None:
    """A day may mean only itself."""
    assert parse_made_on(day.isoformat()) == MadeOn(day.isoformat(), day, day)


@given(st.text() | st.text("0123456789Qq-/ .", max_size=12))
def test_any_text_is_a_making_date_or_a_refusal(text: str) -> None:
    """Whatever the text, the answer is a span within the limits, unknown, or MadeOnError."""
    try:
        made_on = parse_made_on(text)
    except MadeOnError:
        return
    if made_on is not None:
        assert date(EARLIEST_YEAR, 1, 1) <= made_on.earliest <= made_on.latest
        assert made_on.latest <= date(LATEST_YEAR, 12, 31)


@pytest.mark.parametrize(
    ("day", "later", "expected"),
    [
        (date(2026, 3, 1), 10, date(2036, 3, 1)),
        (date(2024, 2, 29), 1, date(2025, 2, 28)),
        (date(2024, 2, 29), 4, date(2028, 2, 29)),
        (date(2024, 2, 29), 76, date(2100, 2, 28)),
        (date(2024, 2, 29), 0, date(2024, 2, 29)),
        (date(2024, 2, 29), -1, date(2023, 2, 28)),
    ],
)
def test_years_are_added(day: date, later: int, expected: date) -> None:
    """The same day so many years on, and 28 February where there is no 29th."""
    assert add_years(day, later) == expected


@pytest.mark.parametrize("day", [date(2026, 3, 1), date(2024, 2, 29)])
def test_years_beyond_the_calendar_are_an_error(day: date) -> None:
    """Leaving the years 1 to 9999 raises ValueError, from a leap day too."""
    with pytest.raises(ValueError, match="year"):
        add_years(day, 9000)
