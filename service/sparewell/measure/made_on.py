"""When a piece was made, as exactly as is known: a day, a month, a quarter, a year or not at all.

Packets of rubber carry a quarter as often as a day. Each is kept as the span of days it may mean,
so that ageing can count from the earliest and "oldest first" has something to sort by.
"""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime

EARLIEST_YEAR = 1880
LATEST_YEAR = 2100
LONGEST_TEXT_CHARACTERS = 40

ACCEPTED_MADE_ON = (
    "Accepted are a day (2026-03-01), a month (2026-03), a quarter (2026-Q1, Q1 2026 or 1Q2026), "
    f"a year (2026) from {EARLIEST_YEAR} to {LATEST_YEAR}, or unknown."
)

_DAY = re.compile(r"(?P<year>[0-9]{4})-(?P<month>[0-9]{2})-(?P<day>[0-9]{2})")
_MONTH = re.compile(r"(?P<year>[0-9]{4})-(?P<month>[0-9]{2})")
_YEAR = re.compile(r"(?P<year>[0-9]{4})")
_QUARTERS = (
    re.compile(r"(?P<year>[0-9]{4})[ /-]?q(?P<quarter>[0-9])", re.ASCII | re.IGNORECASE),
    re.compile(r"q(?P<quarter>[0-9])[ /-]?(?P<year>[0-9]{4})", re.ASCII | re.IGNORECASE),
    re.compile(r"(?P<quarter>[0-9])q[ /-]?(?P<year>[0-9]{4})", re.ASCII | re.IGNORECASE),
)
_TWO_FIGURE_YEAR = re.compile(r"(?:[0-9]q|q[0-9]|[0-9]{1,2})[ ./-]?[0-9]{2}", re.IGNORECASE)


class MadeOnError(ValueError):
    """A value that is no making date; the message says what was wrong and what is accepted."""


@dataclass(frozen=True)
class MadeOn:
    """A making date: its normal text ("2026-Q1") and the first and last day it may mean."""

    text: str
    earliest: date
    latest: date


def parse_made_on(value: object) -> MadeOn | None:
    """Return the span of days, or None when it is unknown (None, "" or "unknown").

    Whether the day has come yet is not checked here. `MadeOnError` is raised for anything
    that is not exactly one day, month, quarter or year between 1880 and 2100.
    """
    text = _text_of(value)
    if text.lower() in {"", "unknown"}:
        return None
    if found := _DAY.fullmatch(text):
        return _span_of_day(int(found["year"]), int(found["month"]), int(found["day"]))
    if found := _MONTH.fullmatch(text):
        year, month = _checked_year(int(found["year"])), int(found["month"])
        if not 1 <= month <= 12:  # noqa: PLR2004
            raise _refused(f"{text} names month {month}, and there are twelve")
        return MadeOn(f"{year:04d}-{month:02d}", date(year, month, 1), _last_day(year, month))
    for pattern in _QUARTERS:
        if found := pattern.fullmatch(text):
            return _span_of_quarter(int(found["year"]), int(found["quarter"]))
    if found := _YEAR.fullmatch(text):
        year = _checked_year(int(found["year"]))
        return MadeOn(f"{year:04d}", date(year, 1, 1), date(year, 12, 31))
    if _TWO_FIGURE_YEAR.fullmatch(text):
        raise _refused(f"{text!r} can be read in more than one way: write the year in four figures")
    raise _refused(f"{text!r} is not a making date")


def is_past(last_day: date | None, today: date) -> bool:
    """Whether the last day on which a piece should be fitted is over; on that day it is not."""
    return last_day is not None and last_day < today


def add_years(day: date, years: int) -> date:
    """Return the same day so many years on; 29 February becomes 28 where there is none.

    `ValueError` when the year leaves the calendar (1 to 9999).
    """
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        if (day.month, day.day) != (2, 29):
            raise
        return day.replace(year=day.year + years, day=28)


def _text_of(value: object) -> str:
    """Return the text to be read; a date (as the database gives it) and a bare year count too."""
    if value is None:
        return ""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, int) and not isinstance(value, bool):
        return str(_checked_year(value))
    if not isinstance(value, str):
        raise _refused(f"A making date is a text, not the type {type(value).__name__}")
    if len(value) > LONGEST_TEXT_CHARACTERS:
        raise _refused(
            f"A making date has at most {LONGEST_TEXT_CHARACTERS} characters, "
            f"this text has {len(value)}"
        )
    return value.strip()


def _span_of_day(year: int, month: int, day: int) -> MadeOn:
    _checked_year(year)
    try:
        exact = date(year, month, day)
    except ValueError:
        shown = f"{year:04d}-{month:02d}-{day:02d}"
        raise _refused(f"There is no day {shown} in the calendar") from None
    return MadeOn(exact.isoformat(), exact, exact)


def _span_of_quarter(year: int, quarter: int) -> MadeOn:
    _checked_year(year)
    if not 1 <= quarter <= 4:  # noqa: PLR2004
        raise _refused(f"There is no quarter {quarter}, a year has four")
    last_month = quarter * 3
    earliest = date(year, last_month - 2, 1)
    return MadeOn(f"{year:04d}-Q{quarter}", earliest, _last_day(year, last_month))


def _checked_year(year: int) -> int:
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise _refused(f"The year is not between {EARLIEST_YEAR} and {LATEST_YEAR}")
    return year


def _last_day(year: int, month: int) -> date:
    return date(year, month, monthrange(year, month)[1])


def _refused(what_was_wrong: str) -> MadeOnError:
    return MadeOnError(f"{what_was_wrong}. {ACCEPTED_MADE_ON}")
