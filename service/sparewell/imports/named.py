"""What the rows of a file name, and what they are checked against.

What a row becomes depends on the file and its options, on the parts and places that it names, on
the settings, and on the program with its plugins. A check holds as long as none of these is another
and the clock has not gone back: a day that was past then is past now.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from sparewell.catalogue.tables import Part
from sparewell.places.tables import Place
from sparewell.settings.operations import present_settings
from sparewell.work import Work

NAMES_AT_ONCE = 500
_OF_A_PART = [column.name for column in Part.__table__.columns]


def found_by(
    session: Session, column: InstrumentedAttribute[str], names: Collection[str]
) -> dict[str, Any]:
    """Return the rows that bear these names, by name."""
    wanted = sorted(names)
    found: dict[str, Any] = {}
    for start in range(0, len(wanted), NAMES_AT_ONCE):
        some = wanted[start : start + NAMES_AT_ONCE]
        statement = select(column.class_).where(column.in_(some))
        found |= {getattr(row, column.key): row for row in session.scalars(statement)}
    return found


@dataclass(frozen=True)
class Mentioned:
    """The parts and places that rows name, of which some may not be there; and all as a digest."""

    parts: dict[str, Part]
    places: dict[str, str]
    digest: str


def look_up(work: Work, numbers: Collection[str], codes: Collection[str]) -> Mentioned:
    """Look up parts by their numbers, and the types of places by their codes, as they are now."""
    parts = found_by(work.session, Part.number, numbers)
    places = {code: row.type for code, row in found_by(work.session, Place.code, codes).items()}
    checked_against = (
        [
            (each.name, each.distribution, each.version, each.state)
            for each in work.declared.plugins
        ],
        [
            (name, state.value)
            for name, state in present_settings(work.session, work.declared).items()
        ],
        [(number, _facts(parts.get(number))) for number in sorted(numbers)],
        [(code, places.get(code)) for code in sorted(codes)],
    )
    digest = hashlib.sha256(repr(checked_against).encode()).hexdigest()
    return Mentioned(parts, places, digest)


def _facts(part: Part | None) -> list[Any]:
    return [getattr(part, name, None) for name in _OF_A_PART]
