"""The ranges of widths that grades stand for, in nanometres.

There is no standard. The Japanese figures were measured and published, at a load of 50 g and 60°
between pen and paper; they are a table. No measured table of Western grades is known: those are
common practice, and each bound is a setting. All bounds count as inside.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from sparewell.plugin import (
    Inputs,
    Output,
    OutputType,
    Setting,
    SizeTable,
    length_setting,
    parse_length,
)

JAPANESE_SOURCE: Final = "measured at 50 g and 60°, a Japanese public table"
COMMON_PRACTICE: Final = "common practice, no source: no measured table of Western grades is known"
NAMES: Final = {
    "UEF": "ultra extra fine",
    "EF": "extra fine",
    "F": "fine",
    "MF": "fine-medium",
    "M": "medium",
    "B": "broad",
    "BB": "double broad",
}


@dataclass(frozen=True)
class Grade:
    """One grade and the widths it stands for; a high of None has no upper bound."""

    code: str
    low_nanometres: int
    high_nanometres: int | None

    def takes(self, least_nanometres: int, most_nanometres: int) -> bool:
        """Return whether any width from the least to the most could be called so."""
        return self.low_nanometres <= most_nanometres and (
            self.high_nanometres is None or least_nanometres <= self.high_nanometres
        )


_JAPANESE: Final = (
    ("UEF", "0.18", "0.24"),
    ("EF", "0.24", "0.28"),
    ("F", "0.28", "0.34"),
    ("MF", "0.32", "0.38"),
    ("M", "0.34", "0.44"),
    ("B", "0.44", "0.54"),
    ("BB", "0.66", "0.86"),
)
_WESTERN: Final = (
    ("EF", "0.35", "0.50"),
    ("F", "0.45", "0.65"),
    ("M", "0.60", "0.85"),
    ("B", "0.80", "1.10"),
    ("BB", "1.00", None),
)

JAPANESE: Final = tuple(
    Grade(code, parse_length(low), parse_length(high)) for code, low, high in _JAPANESE
)

JAPANESE_TABLE: Final = SizeTable(
    name="japanese_line_widths",
    title="Japanese grades by the width of their line",
    source=JAPANESE_SOURCE,
    columns=(
        Output("size", OutputType.TEXT, "The grade."),
        Output("name", OutputType.TEXT, "The grade in words."),
        Output("width_min", OutputType.LENGTH, "The narrowest line called so."),
        Output("width_max", OutputType.LENGTH, "The widest line called so."),
    ),
    rows=tuple(
        {
            "size": grade.code,
            "name": NAMES[grade.code],
            "width_min": grade.low_nanometres,
            "width_max": grade.high_nanometres,
        }
        for grade in JAPANESE
    ),
)


def _bound(code: str, end: str, width: str | None) -> Setting:
    """Return one bound of a Western grade as a setting."""
    return length_setting(
        f"line_width.western_{code.lower()}_{end}",
        f"Western {NAMES[code]}, {'narrowest' if end == 'low' else 'widest'} line",
        width,
        COMMON_PRACTICE,
        "Ranges may overlap." if width is not None else "Ranges may overlap; null: no bound.",
    )


def western_of(inputs: Inputs) -> tuple[Grade, ...]:
    """Return the Western grades as the workshop has set them, narrow to broad."""
    grades = []
    for code, _, _ in _WESTERN:
        high = inputs.setting(f"line_width.western_{code.lower()}_high")
        grades.append(
            Grade(
                code,
                inputs.setting_length(f"line_width.western_{code.lower()}_low"),
                high if isinstance(high, int) else None,
            )
        )
    return tuple(grades)


def between(grades: Iterable[Grade], width_nanometres: int) -> tuple[Grade | None, Grade | None]:
    """Return the grades next below and next above a width that none of them takes."""
    listed = list(grades)
    below = [
        grade
        for grade in listed
        if grade.high_nanometres is not None and grade.high_nanometres < width_nanometres
    ]
    above = [grade for grade in listed if grade.low_nanometres > width_nanometres]
    return (
        max(below, key=lambda grade: grade.high_nanometres or 0, default=None),
        min(above, key=lambda grade: grade.low_nanometres, default=None),
    )


SETTINGS: Final = tuple(
    _bound(code, end, width)
    for code, low, high in _WESTERN
    for end, width in (("low", low), ("high", high))
)
