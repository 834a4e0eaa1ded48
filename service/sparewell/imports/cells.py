"""What people write in a cell, read as what the API would be sent; what is not clear is refused.

A reader takes the text of one cell and what its column says of units and dates, and returns a value
for the schema of the row, or refuses with :class:`CellRefused`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sparewell.measure.length import ACCEPTED_LENGTHS
from sparewell.measure.made_on import ACCEPTED_MADE_ON, EARLIEST_YEAR, LATEST_YEAR
from sparewell.measure.money import ACCEPTED_MONEY

DAY_FIRST, MONTH_FIRST = DATE_ORDERS = ("day_first", "month_first")
ACCEPTED_DAYS = (
    "a day such as 2025-04-03, 3 April 2025 or 3.4.2025; 03/04/2025 only where the option dates "
    "says day_first or month_first"
)
ACCEPTED_PIECES = "a whole number from 1 to 1000000"
_NUMBER = re.compile(r"[0-9]*[.,]?[0-9]+(?: [0-9]+/[0-9]+)?|[0-9]+/[0-9]+|[0-9]+ ?[½¼¾]|[½¼¾]")
_PIECES = re.compile(r"([0-9]{1,9})(?:[.,]0{1,2})?\s*(?:x|pcs?\.?|pieces?|off)?", re.IGNORECASE)
_CURRENCY = re.compile(r"[€£$¥]|\b(?:eur|gbp|usd|chf|jpy)\b", re.IGNORECASE)
_FORMULA_SIGNS = "=+-@\t\r"
_NEUTRALISED = re.compile(rf"'+[{re.escape(_FORMULA_SIGNS)}]")
_WOULD_BE_FORMULA = re.compile(rf"'*[{re.escape(_FORMULA_SIGNS)}]")
_YEAR_FIRST = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})")
_DOTTED = re.compile(r"([0-9]{1,2})\. ?([0-9]{1,2})\. ?([0-9]{4})")
_SLASHED = re.compile(r"([0-9]{1,2})[/-]([0-9]{1,2})[/-]([0-9]{4})")
_DAY_IN_WORDS = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th|\.)?[ -]([a-z]+)\.?,?[ -]([0-9]{4})")
_MONTH_IN_WORDS = re.compile(r"([a-z]+)\.? ([0-9]{1,2})(?:st|nd|rd|th)?,? ([0-9]{4})")
_MONTH_ALONE = re.compile(r"([a-z]+)\.?[ -]([0-9]{4})")
_MONTHS = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
_SHORTEST_MONTH = 3


class CellRefused(Exception):  # noqa: N818 - an expected refusal
    """A cell that cannot be read: what was wrong, and what would be accepted."""

    def __init__(self, detail: str, accepted: str) -> None:
        super().__init__(detail)
        self.detail = detail
        self.accepted = accepted


@dataclass(frozen=True)
class Manner:
    """How the cells of a column are written: the unit its header names, and the order of dates."""

    unit: str | None = None
    dates: str | None = None


Reader = Callable[[str, Manner], Any]


def neutralised(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula; :func:`plain` gives it back."""
    return f"'{text}" if _WOULD_BE_FORMULA.match(text) else text


def plain(text: str) -> str:
    """Return a text as it was before :func:`neutralised`."""
    return text[1:] if _NEUTRALISED.match(text) else text


def value_of(text: str, read: Reader, manner: Manner) -> Any:
    """Return what a filled cell says. Raises :class:`CellRefused`."""
    if text.startswith("="):
        raise CellRefused(
            f"{_short(text)!r} is a formula, not what it comes to",
            "the value itself; copy the column and paste it as values",
        )
    return read(plain(text), manner)


def read_text(text: str, _manner: Manner) -> str:
    """Return a text as it stands."""
    return text


def read_list(text: str, _manner: Manner) -> list[str]:
    """Return names divided by commas, semicolons, strokes or "and"."""
    parts = re.split(r"[,;/\n]|\s+(?:and|&|\+)\s+", text)
    return [part.strip() for part in parts if part.strip()]


def read_pieces(text: str, _manner: Manner) -> int:
    """Return a number of pieces."""
    found = _PIECES.fullmatch(text)
    if found is None:
        raise CellRefused(f"{_short(text)!r} is no number of pieces", ACCEPTED_PIECES)
    return int(found[1])


def read_length(text: str, manner: Manner) -> str:
    """Return a length with its unit: its own, else that of the header."""
    if manner.unit is None or not _NUMBER.fullmatch(text):
        return text
    return f"{text}/64 in" if manner.unit == "64ths" else f"{text} {manner.unit}"


def read_money(text: str, _manner: Manner) -> str:
    """Return an amount; the workshop has one currency, so its sign says nothing."""
    return _CURRENCY.sub("", text).strip()


def read_made_on(text: str, manner: Manner) -> str:
    """Return a making date in the spelling of the API: a day, month, quarter or year."""
    found = _day(text, manner)
    if found is not None:
        return found.isoformat()
    named = _MONTH_ALONE.fullmatch(text.lower())
    month = _month(named[1]) if named else None
    return f"{named[2]}-{month:02d}" if named and month else text


def read_day(text: str, manner: Manner) -> str:
    """Return a day as ISO 8601 writes it."""
    found = _day(text, manner)
    if found is None:
        raise CellRefused(f"{_short(text)!r} is no day", ACCEPTED_DAYS)
    return found.isoformat()


def _day(text: str, manner: Manner) -> date | None:
    lower = text.strip().lower()
    lower = re.sub(r"[ t]00:00(:00(\.0+)?)?$", "", lower)
    if found := _YEAR_FIRST.fullmatch(lower):
        return _date(text, int(found[1]), int(found[2]), int(found[3]))
    if found := _DOTTED.fullmatch(lower):
        return _date(text, int(found[3]), int(found[2]), int(found[1]))
    if found := _SLASHED.fullmatch(lower):
        return _slashed(text, [int(part) for part in found.groups()], manner)
    for pattern, day, month in ((_DAY_IN_WORDS, 1, 2), (_MONTH_IN_WORDS, 2, 1)):
        if (found := pattern.fullmatch(lower)) and (number := _month(found[month])):
            return _date(text, int(found[3]), number, int(found[day]))
    return None


def _slashed(text: str, parts: Sequence[int], manner: Manner) -> date:
    first, second, year = parts
    is_open = first != second and max(first, second) <= len(_MONTHS)
    if is_open and manner.dates is None:
        one, other = f"{first} {_name(second)}", f"{second} {_name(first)}"
        raise CellRefused(f"{_short(text)!r} may be {one} or {other} {year}", ACCEPTED_DAYS)
    month_first = manner.dates == MONTH_FIRST if is_open else second > len(_MONTHS)
    return _date(text, year, first if month_first else second, second if month_first else first)


def _name(month: int) -> str:
    return _MONTHS[month - 1].capitalize()


def _month(word: str) -> int | None:
    if len(word) < _SHORTEST_MONTH:
        return None
    found = [number for number, name in enumerate(_MONTHS, 1) if name.startswith(word[:4])]
    return found[0] if len(found) == 1 and _MONTHS[found[0] - 1].startswith(word) else None


def _date(text: str, year: int, month: int, day: int) -> date:
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise CellRefused(
            f"{_short(text)!r} is not of our time", f"a year from {EARLIEST_YEAR} to {LATEST_YEAR}"
        )
    try:
        return date(year, month, day)
    except ValueError:
        raise CellRefused(f"{_short(text)!r} is no day of the calendar", ACCEPTED_DAYS) from None


def choice_reader(choices: dict[str, str], what: str) -> Reader:
    """Return the reader of a word that stands for one of some names, in any spelling of it."""

    def read(text: str, _manner: Manner) -> str:
        found = choices.get(folded(text))
        if found is None:
            raise CellRefused(
                f"{_short(text)!r} is no {what}", ", ".join(sorted(set(choices.values())))
            )
        return found

    return read


def folded(text: str) -> str:
    """Return a text as names are compared: small letters, one space where anything else stood."""
    return " ".join(re.sub(r"[^a-z0-9ø]+", " ", text.lower()).split())


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."  # noqa: PLR2004 - one line of a screen


ACCEPTED: Mapping[Reader, str] = {
    read_pieces: ACCEPTED_PIECES,
    read_length: ACCEPTED_LENGTHS.removeprefix("Accepted are "),
    read_money: ACCEPTED_MONEY.removeprefix("Accepted is "),
    read_made_on: ACCEPTED_MADE_ON.removeprefix("Accepted are "),
    read_day: ACCEPTED_DAYS,
}
