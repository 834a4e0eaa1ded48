"""A sheet of a workbook as rows of text. It is read in a process of its own: see `apart`.

The phases:

1. the archive is unpacked once, to see how much there is really in it;
2. what the sheet claims is counted: the places of its cells, and the texts that they share; a
   reader believes both, and takes memory for them;
3. the library reads it.
"""

from __future__ import annotations

import copy
import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any

from sparewell.errors import Impossible
from sparewell.imports.bounds import Size
from sparewell.imports.claims import SheetClaims, TextLengths, sheet_part

# A workbook of this many bytes unpacked holds far more rows than are read.
MOST_UNPACKED_BYTES = 256 * 1024 * 1024


MOST_TIMES_PACKED = 200
_LEAST_SUSPICIOUS_BYTES = 16 * 1024 * 1024
_PIECE_BYTES = 1024 * 1024
_SHARED_TEXTS = re.compile(r"xl/sharedstrings\.xml", re.IGNORECASE)
Rows = list[list[str]]


def read_workbook(content: bytes, wanted: str | None) -> tuple[Rows, list[str]]:
    """Return the rows of one sheet, and what is to be said of it. Raises :class:`Impossible`."""
    _refuse_bomb(content)
    import python_calamine  # noqa: PLC0415 - an extra; whoever wants none needs none

    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        name = _sheet_name(book.sheet_names, wanted)
        _refuse_claims(content, name)
        # Empty rows and columns before the first value count too, or no cell would be in its place.
        found = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
    except (Impossible, MemoryError):
        raise
    except Exception as error:  # the library raises what its parsers raise
        raise Impossible.at("", f"the workbook cannot be read: {error}") from error
    rows, size = [], Size()
    for cells in found:
        row = [_text(cell) for cell in cells]
        size.add(row)
        rows.append(row)
    notices = [f"the sheet {name!r} was read"]
    others = [each for each in book.sheet_names if each != name]
    if others:
        notices.append(f"not read: the sheets {', '.join(map(repr, others[:20]))}")
    return rows, notices


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


def _refuse_claims(content: bytes, sheet: str) -> None:
    """Refuse a sheet that claims more than is read; one of another build is left to the limits."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        part = sheet_part(archive, sheet)
        if part is None:
            return
        texts = TextLengths()
        for name in filter(_SHARED_TEXTS.fullmatch, archive.namelist()):
            texts.read(archive, name)
        SheetClaims(texts.lengths).read(archive, part)


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
            return plain(str(cell))


def plain(text: str) -> str:
    """Return a text without outer spaces, its lines ended as ours are."""
    return text.replace("\r\n", "\n").strip(" \r\n\N{NO-BREAK SPACE}")
