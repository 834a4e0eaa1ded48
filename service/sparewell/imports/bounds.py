"""How large a table may be, whatever kind of file it comes in. The bounds hold while it is read."""

from __future__ import annotations

from collections.abc import Sequence

from sparewell.errors import Impossible

MOST_ROWS = 200_000
MOST_COLUMNS = 200
MOST_CELL_CHARACTERS = 10_000


# Rows times columns, the empty ones too: a reader keeps a place for each of them.
MOST_CELLS = 2_000_000


MOST_CHARACTERS = 64_000_000


class Size:
    """What has been read of a table so far; what would be too much is refused at once."""

    def __init__(self) -> None:
        self.rows = 0
        self._cells = 0
        self._characters = 0

    def add(self, row: Sequence[str]) -> None:
        """Count one more row. Raises :class:`Impossible`."""
        self.rows += 1
        if self.rows > MOST_ROWS:
            raise too_many_rows()
        if len(row) > MOST_COLUMNS:
            raise too_wide(self.rows)
        lengths = [len(cell) for cell in row]
        if max(lengths, default=0) > MOST_CELL_CHARACTERS:
            raise Impossible.at(
                "", f"row {self.rows} has a cell of more than {MOST_CELL_CHARACTERS} characters"
            )
        self._cells += len(row)
        self._characters += sum(lengths)
        refuse_large(self._cells, self._characters)


def too_many_rows() -> Impossible:
    """Return the refusal of a table that is too long."""
    return Impossible.at("", f"more than {MOST_ROWS} rows; send the table in several files")


def too_wide(row: int) -> Impossible:
    """Return the refusal of a row with too many columns."""
    return Impossible.at("", f"row {row} has more than {MOST_COLUMNS} columns")


def refuse_large(cells: int, characters: int) -> None:
    """Refuse a table with too many cells, or too much text in all. Raises :class:`Impossible`."""
    for count, most, what in (
        (cells, MOST_CELLS, "cells, the empty ones between them included"),
        (characters, MOST_CHARACTERS, "characters in all its cells"),
    ):
        if count > most:
            raise Impossible.at(
                "", f"the table has more than {most} {what}; send it in several files"
            )
