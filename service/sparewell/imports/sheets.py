"""A file of a notebook as rows of text: CSV in any of its dialects, or a sheet of a workbook.

Rows and columns keep the places they have in the file, so that a fault can be found again there:
row 17, column D is D17. Nothing is understood here; every cell is a text, and an empty one is "".
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from sparewell.errors import Impossible
from sparewell.imports.apart import read_apart
from sparewell.imports.bounds import MOST_CELL_CHARACTERS, MOST_COLUMNS, Size, too_wide
from sparewell.imports.workbook import plain

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_ROWS_TO_JUDGE = 60
_CHARACTERS_TO_JUDGE = 200_000


# A row may go over many lines; the reader keeps all of it before it is seen here.
_MOST_ROW_CHARACTERS = MOST_COLUMNS * MOST_CELL_CHARACTERS


_PACKED = b"PK\x03\x04"
Grid = Sequence[Sequence[str]]


@dataclass(frozen=True)
class Sheet:
    """The rows of a file, and what was found out on the way to them."""

    rows: Grid
    notices: tuple[str, ...]


def read_sheet(content: bytes, sheet: str | None, recognised: Callable[[Grid], int]) -> Sheet:
    """Return the rows of a file. Raises :class:`Impossible`.

    `recognised` says how many headers are understood in some rows; it settles what divides cells.
    """
    if not content:
        raise Impossible.at("", "the file is empty; send a table with a header row")
    if content.startswith(_PACKED):
        rows, notices = read_apart(content, sheet)
        return Sheet(rows, tuple(notices))
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise Impossible.at("", "this is a workbook of the old kind; save it as .xlsx or as .csv")
    if content.startswith((b"%PDF", b"{", b"[")):
        raise Impossible.at("", "this is no table; a table is accepted as .csv or .xlsx")
    return _separated(content, recognised)


def column_letter(position: int) -> str:
    """Return the letter of a column, counted from nought, as every spreadsheet has it."""
    letters = ""
    number = position + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _separated(content: bytes, recognised: Callable[[Grid], int]) -> Sheet:
    text, notices = _decoded(content)
    if "\0" in text:
        raise Impossible.at("", "the file is no text; a table is accepted as .csv or .xlsx")
    delimiter = _delimiter(text, recognised)
    notices.append(f"cells are divided by the {_DELIMITERS[delimiter]}")
    return Sheet(_parsed(text, delimiter), tuple(notices))


def _decoded(content: bytes) -> tuple[str, list[str]]:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return content.decode("utf-16"), ["read as UTF-16"]
        except UnicodeDecodeError as error:
            raise Impossible.at("", "the file is no text; save it as CSV in UTF-8") from error
    try:
        return content.decode("utf-8-sig"), ["read as UTF-8"]
    except UnicodeDecodeError:
        pass
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError as error:
        raise Impossible.at(
            "", "the file is text neither in UTF-8 nor in Windows-1252; save it as CSV in UTF-8"
        ) from error
    notice = (
        "the file is not UTF-8 and was read as Windows-1252; look whether letters with accents "
        "and signs such as µ and ½ are right"
    )
    return text, [notice]


def _delimiter(text: str, recognised: Callable[[Grid], int]) -> str:
    """Return what divides cells: the sign under which most headers are known and rows agree."""
    beginning = text[:_CHARACTERS_TO_JUDGE]

    def merit(delimiter: str) -> tuple[int, int]:
        try:
            rows = list(islice(_read(beginning, delimiter), _ROWS_TO_JUDGE))
        except csv.Error:
            return (-1, -1)
        widths = [len(row) for row in rows if len(row) > 1]
        usual = max(set(widths), key=widths.count) if widths else 1
        return recognised(rows), usual * widths.count(usual)

    return max(_DELIMITERS, key=merit)


def _parsed(text: str, delimiter: str) -> list[list[str]]:
    size = Size()
    rows = []
    try:
        for row in _read(text, delimiter):
            size.add(row)
            rows.append(row)
    except csv.Error as error:
        raise Impossible.at("", f"the table cannot be read: {error}") from error
    return rows


def _read(text: str, delimiter: str) -> Iterator[list[str]]:
    """Yield the rows, each read only as far as a row may go."""
    characters = row = 0

    def lines() -> Iterator[str]:
        nonlocal characters
        for line in io.StringIO(text, newline=""):
            characters += len(line)
            if characters > _MOST_ROW_CHARACTERS:
                raise too_wide(row + 1)
            yield line

    for cells in csv.reader(lines(), delimiter=delimiter):
        characters, row = 0, row + 1
        yield [plain(cell) for cell in cells]


def is_blank(row: Iterable[str]) -> bool:
    """Whether no cell of a row says anything."""
    return not any(row)
