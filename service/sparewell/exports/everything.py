"""Everything in one JSON document, and back again into an empty database, row by row.

The document is laid out by lines, so that neither side has to hold it in the memory: a head, then
for each table a line that opens it, one line for each row, and one that closes it with the number
of its rows, the SHA-256 over them and the highest id that was ever given. Keys to the service, and
the answers kept for repeated requests, are never in it.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import IO, Any

from sqlalchemy import JSON, Column, Connection, Row, Table, TypeDecorator, insert, null
from sqlalchemy.exc import DataError, IntegrityError, StatementError

from sparewell.database import faults
from sparewell.database.columns import LARGE_ROWS
from sparewell.database.copying import (
    BATCH_LARGE_ROWS,
    BATCH_ROWS,
    CopyError,
    Tally,
    batches,
    columns_of,
    given_id,
    plain_form,
    set_counter,
    tables_of,
    tally,
)
from sparewell.database.migrate import Owner

FORMAT = "sparewell-everything-1"
LEFT_OUT = frozenset({"token", "kept_answer"})
LONGEST_LINE_CHARACTERS = 1024**3
_END = "]}"


def tables_kept(owners: Sequence[Owner]) -> list[Table]:
    """Return the tables that the document holds; each comes after those it points at."""
    return [table for table in tables_of(owners) if table.name not in LEFT_OUT]


def written(
    connection: Connection,
    tables: Sequence[Table],
    revisions: Mapping[str, str | None],
    made_at: datetime,
) -> Iterator[str]:
    """Give the document, some lines at a time."""
    head = {"format": FORMAT, "made_at": made_at.isoformat(), "revisions": dict(revisions)}
    yield f'{json.dumps(head)[:-1]}, "tables": [\n'
    for position, table in enumerate(tables):
        names = [column.name for column in columns_of(table)]
        yield f'{{"table": {json.dumps(table.name)}, "columns": {json.dumps(names)}, "rows": [\n'
        count, digest = 0, hashlib.sha256()
        for batch in batches(connection, table):
            digest.update(plain_form(batch))
            lines = [json.dumps(_outward(table, row)) for row in batch]
            yield ("" if count == 0 else ",\n") + ",\n".join(lines)
            count += len(batch)
        closing = {
            "rows_total": count,
            "sha256": digest.hexdigest(),
            "highest_id": given_id(connection, table),
        }
        comma = "," if position + 1 < len(tables) else ""
        yield ("\n" if count else "") + f"], {json.dumps(closing)[1:]}{comma}\n"
    yield f"{_END}\n"


def _documents(table: Table) -> list[Column[Any]]:
    return [column for column in columns_of(table) if isinstance(column.type, JSON)]


def _outward(table: Table, row: Row[Any]) -> list[Any]:
    """Return a row for JSON. A document is wrapped: its null and the database's are two things."""
    columns = columns_of(table)
    missing = dict(zip(_documents(table), row[len(columns) :], strict=True))
    return [
        _plain(value) if column not in missing else None if missing[column] else {"is": value}
        for column, value in zip(columns, row, strict=False)
    ]


def _plain(value: Any) -> Any:
    match value:
        case datetime() | date():
            return value.isoformat()
        case bytes() | memoryview():
            return base64.b64encode(bytes(value)).decode()
        case Decimal():
            return str(value)
        case _:
            return value


def _inward(column: Column[Any], value: Any) -> Any:
    """Return a value of JSON as its column takes it. ValueError and TypeError where it cannot."""
    if isinstance(column.type, JSON):
        return null() if value is None else value["is"]
    if value is None:
        return None
    kind = _python_type(column)
    if kind is bytes:
        return base64.b64decode(value, validate=True)
    if kind in {datetime, date}:
        return kind.fromisoformat(value)
    if kind is Decimal:
        return Decimal(value)
    if type(value) is not kind:
        raise TypeError(f"{value!r} is no {kind.__name__}")
    return value


def _python_type(column: Column[Any]) -> type:
    kind = column.type
    return kind.impl_instance.python_type if isinstance(kind, TypeDecorator) else kind.python_type


@dataclass(frozen=True)
class Head:
    """What a document says of itself."""

    made_at: str
    revisions: Mapping[str, Any]


class Document:
    """A document that is read line by line. Each method raises :class:`CopyError`."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file
        self.characters = 0

    def head(self) -> Head:
        """Read the head."""
        line = self._line()
        if FORMAT not in line:
            raise CopyError(
                "the file is no document of everything, as `sparewell export` writes it and no "
                "other program has changed it"
            )
        found = self._read(line, _END)
        return Head(str(found.get("made_at")), found.get("revisions") or {})

    def open_table(self, table: Table) -> None:
        """Read the line that opens a table."""
        names = [column.name for column in columns_of(table)]
        found = self._read(self._line(), _END)
        if found != {"table": table.name, "columns": names, "rows": []}:
            raise CopyError(f"the table {table.name} is not where it should be, or not as it is")

    def rows(self, table: Table) -> Iterator[list[Any]]:
        """Give the rows of a table; what closes it is in `closing` then."""
        while not (line := self._line()).startswith("],"):
            row = self._read(line.removesuffix(","))
            if not isinstance(row, list) or len(row) != len(columns_of(table)):
                raise CopyError(f"{table.name}: a row is damaged")
            yield row
        self.closing: Mapping[str, Any] = self._read("{" + line.removesuffix(",")[2:])

    def end(self) -> None:
        """Read the end."""
        if self._line() != _END or self._file.read(1):
            raise CopyError("the document does not end where it should")

    def _line(self) -> str:
        try:
            line = self._file.readline(LONGEST_LINE_CHARACTERS)
        except UnicodeDecodeError as error:
            raise CopyError("the file is not text in UTF-8") from error
        if not line:
            raise CopyError("the document ends before its end: the file is only a part of it")
        self.characters += len(line)
        return line.rstrip("\r\n")

    @staticmethod
    def _read(text: str, end: str = "") -> Any:
        try:
            return json.loads(text + end)
        except (ValueError, RecursionError) as error:
            raise CopyError("the document is damaged, or was laid out anew") from error


def refuse_other_revisions(head: Head, present: Mapping[str, str | None]) -> None:
    """Refuse a document of other tables than these. Raises :class:`CopyError`."""
    owners = sorted({*head.revisions, *present})
    others = [
        f"{owner} {head.revisions.get(owner) or 'without tables'} (here: "
        f"{present.get(owner) or 'without tables'})"
        for owner in owners
        if head.revisions.get(owner) != present.get(owner)
    ]
    if others:
        raise CopyError(
            f"the document is of another revision: {', '.join(others)}; bring it into the "
            "Sparewell that it comes from, migrate that, and export again"
        )


def fill(
    target: Connection, tables: Sequence[Table], document: Document, tell: Callable[[int], None]
) -> dict[str, int]:
    """Write every row, and read it back. Raises :class:`CopyError`; return the rows by table."""
    found = {}
    for table in tables:
        document.open_table(table)
        _write_rows(target, table, document, tell)
        closing = document.closing
        set_counter(target, table, _whole(closing.get("highest_id")))
        kept = tally(target, table)
        if kept != Tally(_whole(closing.get("rows_total")), str(closing.get("sha256"))):
            raise CopyError(f"{table.name}: the {kept.rows} rows are not those that were exported")
        faults.reach(faults.AFTER_TABLE_COPIED)
        found[table.name] = kept.rows
    document.end()
    return found


def _whole(value: Any) -> int:
    return value if isinstance(value, int) else -1


def _write_rows(
    target: Connection, table: Table, document: Document, tell: Callable[[int], None]
) -> None:
    columns = columns_of(table)
    most = BATCH_LARGE_ROWS if table.info == LARGE_ROWS else BATCH_ROWS
    waiting: list[dict[str, Any]] = []

    def write() -> None:
        if waiting:
            target.execute(insert(table), waiting)
            waiting.clear()
            tell(document.characters)

    try:
        for row in document.rows(table):
            values = zip(columns, row, strict=True)
            waiting.append({column.key: _inward(column, value) for column, value in values})
            if len(waiting) >= most:
                write()
        write()
    except (DataError, IntegrityError, StatementError) as error:
        cause = (str(error.orig).splitlines() or ["no reason given"])[0]
        raise CopyError(f"{table.name}: a row was not accepted: {cause}") from error
    except (ValueError, TypeError, KeyError, InvalidOperation) as error:
        raise CopyError(f"{table.name}: a value is damaged: {error}") from error
