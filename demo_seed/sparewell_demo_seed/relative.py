"""Dates as the data files write them: how long before the moment the demo is loaded."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from sparewell.measure.made_on import MadeOn, parse_made_on

_AGO = re.compile(r"(?P<count>[0-9]+) (?P<unit>hour|day|month|quarter|year)s?")
_MONTHS_PER_YEAR = 12
_QUARTERS_PER_YEAR = 4
_MONTHS_PER_QUARTER = 3


def moment_before(now: datetime, ago: str) -> datetime:
    """Return the moment that "12 days" or "5 hours" before now was."""
    count, unit = _split(ago)
    if unit not in {"hour", "day"}:
        raise ValueError(f"{ago!r} names no moment: give hours or days")
    return now - timedelta(**{f"{unit}s": count})


def made_before(now: datetime, ago: str) -> MadeOn | None:
    """Return the day, month, quarter or year so long before now; "" is unknown."""
    if not ago:
        return None
    count, unit = _split(ago)
    if unit == "month":
        year, month = divmod(now.year * _MONTHS_PER_YEAR + now.month - 1 - count, _MONTHS_PER_YEAR)
        return parse_made_on(f"{year}-{month + 1:02d}")
    if unit == "quarter":
        present = now.year * _QUARTERS_PER_YEAR + (now.month - 1) // _MONTHS_PER_QUARTER
        year, quarter = divmod(present - count, _QUARTERS_PER_YEAR)
        return parse_made_on(f"{year}-Q{quarter + 1}")
    if unit == "year":
        return parse_made_on(now.year - count)
    return parse_made_on(moment_before(now, ago).date())


def _split(ago: str) -> tuple[int, str]:
    found = _AGO.fullmatch(ago)
    if found is None:
        raise ValueError(f"{ago!r} is no time before now: write 12 days, 5 hours or 9 quarters")
    return int(found["count"]), found["unit"]
