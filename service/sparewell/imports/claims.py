"""What the parts of a workbook claim, counted piece by piece before a reader believes it.

ECMA-376 part 1: sheets and their cells in section 18.3, shared texts in 18.4, relations in 9.2.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Sequence
from xml.parsers import expat

from sparewell.errors import Impossible
from sparewell.imports.bounds import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    refuse_large,
    too_many_rows,
    too_wide,
)

_PIECE_BYTES = 256 * 1024
_PLACE = re.compile(r"([A-Za-z]{1,10})([0-9]{1,20})")
_BOOK = "xl/workbook.xml"
_RELATIONS = "xl/_rels/workbook.xml.rels"
_VALUES = frozenset({"v", "is", "f"})


class _Part:
    """One part of the archive, read with a parser that keeps nothing of it."""

    def read(self, archive: zipfile.ZipFile, name: str) -> None:
        """Read it through. Raises :class:`Impossible`."""
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartElementHandler = lambda tag, more: self._start(_local(tag), more)
        parser.EndElementHandler = lambda tag: self._end(_local(tag))
        parser.CharacterDataHandler = self._text
        try:
            with archive.open(name) as stream:
                while piece := stream.read(_PIECE_BYTES):
                    parser.Parse(piece)
                parser.Parse(b"", True)  # noqa: FBT003 - expat takes it by its place only
        except expat.ExpatError as error:
            raise Impossible.at("", f"the workbook cannot be read: {name}: {error}") from error

    def _start(self, tag: str, more: dict[str, str]) -> None:
        """Take an element's beginning."""

    def _end(self, tag: str) -> None:
        """Take an element's end."""

    def _text(self, text: str) -> None:
        """Take a text."""


def _local(tag: str) -> str:
    return tag.rpartition(":")[2]


class _Attributes(_Part):
    """Collects the attributes of all elements of one name."""

    def __init__(self, tag: str) -> None:
        self._tag = tag
        self.found: list[dict[str, str]] = []

    def _start(self, tag: str, more: dict[str, str]) -> None:
        if tag == self._tag:
            self.found.append({_local(name): value for name, value in more.items()})


def sheet_part(archive: zipfile.ZipFile, sheet: str) -> str | None:
    """Return the name of the part that holds a sheet, where the workbook says so as usual."""
    names = set(archive.namelist())
    if not {_BOOK, _RELATIONS} <= names:
        return None
    sheets, relations = _Attributes("sheet"), _Attributes("Relationship")
    sheets.read(archive, _BOOK)
    relations.read(archive, _RELATIONS)
    targets = {each.get("Id"): each.get("Target", "") for each in relations.found}
    for each in sheets.found:
        if each.get("name") == sheet:
            part = posixpath.normpath(posixpath.join("/xl", targets.get(each.get("id"), ""))).strip(
                "/"
            )
            return part if part in names else None
    return None


class TextLengths(_Part):
    """How long each of the shared texts is."""

    def __init__(self) -> None:
        self.lengths: list[int] = []

    def _start(self, tag: str, _more: dict[str, str]) -> None:
        if tag == "si":
            self.lengths.append(0)
            if len(self.lengths) > MOST_CELLS:
                refuse_large(len(self.lengths), 0)

    def _text(self, text: str) -> None:
        if self.lengths:
            self.lengths[-1] += len(text)


class SheetClaims(_Part):
    """Where the cells of a sheet say that they are, and how much they say together."""

    def __init__(self, shared: Sequence[int]) -> None:
        self._shared = shared
        self._row = self._column = 0
        self._last_row = self._last_column = 0
        self._cells = self._characters = 0
        self._is_shared = self._is_value = False
        self._value = ""

    def _start(self, tag: str, more: dict[str, str]) -> None:
        if tag == "row":
            self._row = _whole(more["r"]) if "r" in more else self._row + 1
            self._column = 0
        elif tag == "c":
            self._enter_cell(more)
        elif tag in _VALUES:
            self._believe_place()
            self._is_value, self._value = tag == "v", ""

    def _enter_cell(self, more: dict[str, str]) -> None:
        self._cells += 1
        refuse_large(self._cells, 0)
        self._column += 1
        self._is_shared = more.get("t") == "s"
        if "r" in more:
            found = _PLACE.fullmatch(more["r"])
            if found is None:
                raise Impossible.at(
                    "", f"the sheet has a cell at {more['r'][:40]!r}: no such place"
                )
            self._column, self._row = _column(found.group(1)), int(found.group(2))

    def _believe_place(self) -> None:
        """Take the place of a cell that holds something; one that is only painted takes none."""
        if self._row > MOST_ROWS:
            raise too_many_rows()
        if self._column > MOST_COLUMNS:
            raise too_wide(self._row)
        self._last_row = max(self._last_row, self._row)
        self._last_column = max(self._last_column, self._column)
        refuse_large(self._last_row * self._last_column, 0)

    def _text(self, text: str) -> None:
        if self._is_value and self._is_shared:
            self._value = (self._value + text)[:20]

    def _end(self, tag: str) -> None:
        if tag == "v" and self._is_value:
            self._is_value = False
            if self._is_shared and self._value.strip().isdecimal():
                self._take_shared(int(self._value))

    def _take_shared(self, number: int) -> None:
        if number < len(self._shared):
            self._characters += self._shared[number]
            refuse_large(0, self._characters)


def _whole(text: str) -> int:
    text = text.strip()[:20]
    if not (text.isascii() and text.isdecimal()):
        raise Impossible.at("", f"the sheet has a row numbered {text!r}: no such row")
    return int(text)


def _column(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
