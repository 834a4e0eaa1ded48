"""A file of a notebook as rows of text: CSV in any of its dialects, or a sheet of a workbook.

Rows and columns keep the places they have in the file, so that a fault can be found again there:
row 17, column D is D17. Nothing is understood here; every cell is a text, and an empty one is "".
"""

from __future__ import annotations

import copy
import csv
import io
import zipfile
import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from sparewell.errors import Impossible

MOST_ROWS = 200_000
MOST_COLUMNS = 200
MOST_CELL_CHARACTERS = 10_000
# A workbook of this many bytes unpacked holds far more rows than are read.
MOST_UNPACKED_BYTES = 256 * 1024 * 1024
MOST_TIMES_PACKED = 200
_LEAST_SUSPICIOUS_BYTES = 16 * 1024 * 1024
_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_ROWS_TO_JUDGE = 60
_CHARACTERS_TO_JUDGE = 200_000
_PIECE_BYTES = 1024 * 1024
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
        return _limited(_workbook(content, sheet))
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        raise Impossible.at("", "this is a workbook of the old kind; save it as .xlsx or as .csv")
    if content.startswith((b"%PDF", b"{", b"[")):
        raise Impossible.at("", "this is no table; a table is accepted as .csv or .xlsx")
    return _limited(_separated(content, recognised))


def column_letter(position: int) -> str:
    """Return the letter of a column, counted from nought, as every spreadsheet has it."""
    letters = ""
    number = position + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _limited(found: Sheet) -> Sheet:
    if len(found.rows) > MOST_ROWS:
        raise Impossible.at("", f"more than {MOST_ROWS} rows; send the table in several files")
    for number, row in enumerate(found.rows, 1):
        if len(row) > MOST_COLUMNS:
            raise Impossible.at("", f"row {number} has more than {MOST_COLUMNS} columns")
        if any(len(cell) > MOST_CELL_CHARACTERS for cell in row):
            raise Impossible.at(
                "", f"row {number} has a cell of more than {MOST_CELL_CHARACTERS} characters"
            )
    return found


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
            rows = _rows(beginning, delimiter, _ROWS_TO_JUDGE)
        except csv.Error:
            return (-1, -1)
        widths = [len(row) for row in rows if len(row) > 1]
        usual = max(set(widths), key=widths.count) if widths else 1
        return recognised(rows), usual * widths.count(usual)

    return max(_DELIMITERS, key=merit)


def _parsed(text: str, delimiter: str) -> list[list[str]]:
    try:
        return _rows(text, delimiter, MOST_ROWS + 1)
    except csv.Error as error:
        raise Impossible.at("", f"the table cannot be read: {error}") from error


def _rows(text: str, delimiter: str, most: int) -> list[list[str]]:
    rows = []
    for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter):
        rows.append([_plain(cell) for cell in row])
        if len(rows) == most:
            break
    return rows


def _workbook(content: bytes, wanted: str | None) -> Sheet:
    _refuse_bomb(content)
    try:
        import python_calamine  # noqa: PLC0415 - an extra, and slow to load
    except ModuleNotFoundError as error:
        raise Impossible.at(
            "",
            "workbooks are read with the extra xlsx, which is not installed where the server "
            "runs: pip install 'sparewell[xlsx]'; or save the sheet as .csv",
        ) from error
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        name = _sheet_name(book.sheet_names, wanted)
        sheet = book.get_sheet_by_name(name)
        # Empty rows and columns before the first value count too, or no cell would be in its place.
        rows = sheet.to_python(skip_empty_area=False)
    except Impossible:
        raise
    except Exception as error:  # the library raises what its parsers raise
        raise Impossible.at("", f"the workbook cannot be read: {error}") from error
    notices = [f"the sheet {name!r} was read"]
    others = [each for each in book.sheet_names if each != name]
    if others:
        notices.append(f"not read: the sheets {', '.join(map(repr, others[:20]))}")
    return Sheet([[_text(cell) for cell in row] for row in rows], tuple(notices))


def _sheet_name(names: Sequence[str], wanted: str | None) -> str:
    if not names:
        raise Impossible.at("", "the workbook has no sheet")
    if wanted is not None and wanted not in names:
        raise Impossible.at(
            "/sheet", f"there is no sheet {wanted!r}; there are {', '.join(map(repr, names[:20]))}"
        )
    return wanted or names[0]


def _refuse_bomb(content: bytes) -> None:
    """Refuse what would unpack to far more than a notebook holds, before anything is unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
            if unpacked <= MOST_UNPACKED_BYTES:
                unpacked = _true_size(archive)
            names = set(archive.namelist())
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as error:
        raise Impossible.at("", "the workbook is damaged: it cannot be unpacked") from error
    is_dense = unpacked > _LEAST_SUSPICIOUS_BYTES and unpacked > MOST_TIMES_PACKED * len(content)
    if unpacked > MOST_UNPACKED_BYTES or is_dense:
        raise Impossible.at(
            "",
            f"the workbook would unpack to {unpacked} bytes or more; accepted are at most "
            f"{MOST_UNPACKED_BYTES}, and at most {MOST_TIMES_PACKED} times its own size",
        )
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        raise Impossible.at("", "this is a packed file, but no workbook; send .xlsx or .csv")


def _true_size(archive: zipfile.ZipFile) -> int:
    """Return how much there is in an archive, which may say less of itself; counted to the most."""
    total = 0
    for said in archive.infolist():
        entry = copy.copy(said)
        entry.file_size = MOST_UNPACKED_BYTES + 1  # reading ends with what there is, not before
        with archive.open(entry) as stream:
            while piece := stream.read(_PIECE_BYTES):
                total += len(piece)
                if total > MOST_UNPACKED_BYTES:
                    return total
    return total


def _text(cell: Any) -> str:
    """Return what a cell of a workbook says, as a person would have typed it."""
    match cell:
        case bool():
            return "yes" if cell else "no"
        case float() if cell.is_integer() and abs(cell) < 1e15:  # noqa: PLR2004 - exact as a float
            return str(int(cell))
        case datetime() if cell.time() == time():
            return cell.date().isoformat()
        case date() | time():
            return cell.isoformat()
        case _:
            return _plain(str(cell))


def _plain(text: str) -> str:
    """Return a text without outer spaces, its lines ended as ours are."""
    return text.replace("\r\n", "\n").strip(" \r\n\N{NO-BREAK SPACE}")


def is_blank(row: Iterable[str]) -> bool:
    """Whether no cell of a row says anything."""
    return not any(row)
