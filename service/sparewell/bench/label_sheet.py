"""Sheets of labels: geometry in millimetres, and codes that open a page. Knows no HTTP."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import segno

from sparewell.measure.length import NANOMETRES_PER_MILLIMETRE, LengthError, parse_length

# Name, title, what stands there until somebody says otherwise. A sheet of 24 as shops sell it.
LENGTHS: Final = (
    ("page_width", "Page width", "210"),
    ("page_height", "Page height", "297"),
    ("label_width", "Label width", "70"),
    ("label_height", "Label height", "37"),
    ("left", "Margin at the left", "0"),
    ("top", "Margin at the top", "0.5"),
    ("gap_across", "Gap across", "0"),
    ("gap_down", "Gap down", "0"),
)
COUNTS: Final = (("columns", "Columns", "3"), ("rows", "Rows", "8"))
MAY_BE_NOUGHT: Final = frozenset({"left", "top", "gap_across", "gap_down"})
MOST_ACROSS: Final = 100
LONGEST_PAGE_MILLIMETRES: Final = 1000
# A phone reads squares of a third of a millimetre from a hand's width away; common practice.
SMALLEST_SQUARE_MILLIMETRES: Final = 0.33
_QUIET_SQUARES = 4
_PADDING_MILLIMETRES = 1.5
_MOST_OF_THE_WIDTH = 0.42
# How wide a letter of a plain face is against its height; capitals and figures, where it is bold.
_WIDTH_OF_A_LETTER, _WIDTH_OF_A_BOLD_LETTER = 0.6, 0.72
_LINE_HEIGHT = 1.2
_HEADING_SHARE, _LINE_SHARE = 0.3, 0.12
_LARGEST_HEADING, _LARGEST_LINE = 14.0, 3.6


@dataclass(frozen=True)
class LabelSheet:
    """A sheet of labels, in millimetres."""

    page_width: float
    page_height: float
    label_width: float
    label_height: float
    left: float
    top: float
    gap_across: float
    gap_down: float
    columns: int
    rows: int

    @property
    def code_width(self) -> float:
        """How wide a code may be, its quiet edge included."""
        room = self.label_height - 2 * _PADDING_MILLIMETRES
        return round(min(room, self.label_width * _MOST_OF_THE_WIDTH), 3)


@dataclass(frozen=True)
class Label:
    """What one label says, and the address that its code opens."""

    heading: str
    lines: Sequence[str]
    address: str


@dataclass(frozen=True)
class LabelText:
    """A line of print: its baseline and its size."""

    said: str
    y: float
    size: float
    is_heading: bool


@dataclass(frozen=True)
class Placed:
    """A label where it is printed."""

    label: Label
    x: float
    y: float
    code: str
    squares: int
    texts: list[LabelText]


def read_sheet(typed: Mapping[str, str]) -> tuple[LabelSheet | None, dict[str, str]]:
    """Return the sheet that was typed, or what is wrong with each number of it."""
    values: dict[str, Any] = {}
    faults: dict[str, str] = {}
    for name, _, _ in LENGTHS:
        try:
            nanometres = parse_length(typed.get(name, ""), zero_allowed=name in MAY_BE_NOUGHT)
        except LengthError as error:
            faults[name] = str(error)
        else:
            values[name] = nanometres / NANOMETRES_PER_MILLIMETRE
    for name, _, _ in COUNTS:
        text = typed.get(name, "")
        if text.isascii() and text.isdecimal() and 1 <= int(text[:4]) <= MOST_ACROSS:
            values[name] = int(text[:4])
        else:
            faults[name] = f"must be a whole number from 1 to {MOST_ACROSS}"
    if faults:
        return None, faults
    sheet = LabelSheet(**values)
    faults = _too_large(sheet)
    return (None, faults) if faults else (sheet, {})


def _too_large(sheet: LabelSheet) -> dict[str, str]:
    """Return where the labels would run off the page."""
    faults = {}
    across = sheet.columns * sheet.label_width + (sheet.columns - 1) * sheet.gap_across + sheet.left
    down = sheet.rows * sheet.label_height + (sheet.rows - 1) * sheet.gap_down + sheet.top
    if across > sheet.page_width:
        faults["columns"] = (
            f"{sheet.columns} labels with their gaps and the margin reach {across:g} mm, and the "
            f"page ends at {sheet.page_width:g} mm"
        )
    if down > sheet.page_height:
        faults["rows"] = (
            f"{sheet.rows} labels with their gaps and the margin reach {down:g} mm, and the page "
            f"ends at {sheet.page_height:g} mm"
        )
    return faults


def code_of(address: str) -> tuple[str, int]:
    """Return the code of an address as an SVG path, and how many squares it has with its edge."""
    matrix = segno.make(address, micro=False, error="m").matrix
    return "".join(_runs(matrix)), len(matrix) + 2 * _QUIET_SQUARES


def _runs(matrix: Sequence[bytearray]) -> Iterator[str]:
    """Yield each run of dark squares of a row as a rectangle."""
    for y, row in enumerate(matrix, _QUIET_SQUARES):
        start = None
        for x, is_dark in enumerate([*row, 0]):
            if is_dark and start is None:
                start = x
            elif not is_dark and start is not None:
                yield f"M{start + _QUIET_SQUARES} {y}h{x - start}v1h{start - x}z"
                start = None


def is_code_readable(sheet: LabelSheet, address: str) -> bool:
    """Whether a phone will read the code of an address on such a label."""
    return sheet.code_width / code_of(address)[1] >= SMALLEST_SQUARE_MILLIMETRES


def sheets(sheet: LabelSheet, labels: Sequence[Label], start: int) -> list[list[Placed]]:
    """Return the labels sheet by sheet; the first `start - 1` of the first sheet are used up."""
    found: list[list[Placed]] = []
    on_a_sheet = sheet.columns * sheet.rows
    for position, label in enumerate(labels, start - 1):
        number, place = divmod(position, on_a_sheet)
        if number == len(found):
            found.append([])
        row, column = divmod(place, sheet.columns)
        code, squares = code_of(label.address)
        found[number].append(
            Placed(
                label,
                round(sheet.left + column * (sheet.label_width + sheet.gap_across), 3),
                round(sheet.top + row * (sheet.label_height + sheet.gap_down), 3),
                code,
                squares,
                _texts(sheet, label),
            )
        )
    return found


def _texts(sheet: LabelSheet, label: Label) -> list[LabelText]:
    """Return the lines of a label, as many as it has room for."""
    room = sheet.label_width - sheet.code_width - 3 * _PADDING_MILLIMETRES
    fitting = room / (max(len(label.heading), 1) * _WIDTH_OF_A_BOLD_LETTER)
    heading = round(min(_LARGEST_HEADING, sheet.label_height * _HEADING_SHARE, fitting), 3)
    size = round(min(_LARGEST_LINE, sheet.label_height * _LINE_SHARE), 3)
    letters = max(1, int(room / (size * _WIDTH_OF_A_LETTER)))
    y = _PADDING_MILLIMETRES + heading
    texts = [LabelText(label.heading, round(y, 3), heading, is_heading=True)]
    broken = (
        part
        for each in label.lines
        for part in textwrap.wrap(each, letters, break_long_words=False)
    )
    for line in broken:
        y += size * _LINE_HEIGHT
        if y > sheet.label_height - _PADDING_MILLIMETRES / 2:
            break
        small = round(min(size, room / (len(line) * _WIDTH_OF_A_LETTER)), 3)
        texts.append(LabelText(line, round(y, 3), small, is_heading=False))
    return texts


def text_left(sheet: LabelSheet) -> float:
    """Return where the print of a label begins, from its left edge."""
    return round(sheet.code_width + 2 * _PADDING_MILLIMETRES, 3)


PADDING_MILLIMETRES: Final = _PADDING_MILLIMETRES
