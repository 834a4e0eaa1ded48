"""Copying every row of one database into another of either kind, and proving that all came over.

The phases, all in one snapshot of the source and one transaction of the target:

1. the tables of the target are locked against others, and have to be empty;
2. table by table, what is pointed at before what points, the rows are read in the order of their
   primary key and written in batches, through the column types, so that each database keeps a value
   in its own way; PostgreSQL takes them by COPY, and makes indexes and references behind the last
   row; the counter that gives new ids is set past every id that was ever given;
3. every row is read back from the target: their number, and a SHA-256 over them in one plain form,
   have to be those of the source.

Whatever fails leaves the target without a row.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    JSON,
    Column,
    Connection,
    Row,
    String,
    Table,
    collate,
    func,
    insert,
    inspect,
    null,
    select,
    text,
)
from sqlalchemy.exc import DataError, IntegrityError, OperationalError

from sparewell.database import faults
from sparewell.database.columns import LARGE_ROWS
from sparewell.database.engine import Database
from sparewell.database.migrate import Owner
from sparewell.database.postgresql_copy import copying_into, unburdened

BATCH_ROWS = 1000
BATCH_LARGE_ROWS = 1
_UNHURRIED = (
    "SET LOCAL statement_timeout = 0",
    "SET LOCAL idle_in_transaction_session_timeout = 0",
    "SET LOCAL lock_timeout = '10s'",
)

Progress = Callable[[int, int], None]


class CopyError(Exception):
    """The rows cannot be copied, or did not come over as they were; nothing was kept of them."""


@dataclass(frozen=True)
class Tally:
    """What one table holds: the number of its rows, and a hash over all that is in them."""

    rows: int
    sha256: str


def tables_of(owners: Sequence[Owner]) -> list[Table]:
    """Return the tables of every owner; each comes after those it points at."""
    return [table for owner in owners for table in owner.metadata.sorted_tables]


@contextmanager
def snapshot(database: Database) -> Iterator[Connection]:
    """Give the database as it is at one moment, for as long as copying takes.

    On SQLite other writers wait meanwhile; on PostgreSQL nobody does.
    """
    with (
        database.write_lock.turn(),
        database.writer.connect() as connection,
        _one_moment(database, connection),
    ):
        yield connection


@contextmanager
def glimpse(database: Database) -> Iterator[Connection]:
    """Give the database as it is at one moment, while others go on writing."""
    with database.engine.connect() as connection, _one_moment(database, connection):
        yield connection


@contextmanager
def _one_moment(database: Database, connection: Connection) -> Iterator[None]:
    if not database.is_sqlite:
        connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    with connection.begin():
        _take_time(connection)
        yield


@contextmanager
def filling(database: Database, tables: Sequence[Table]) -> Iterator[Connection]:
    """Give a transaction in which the empty tables are nobody else's. Raises :class:`CopyError`."""
    with database.write_lock.turn(), database.writer.begin() as connection:
        _take_time(connection)
        if not database.is_sqlite:
            names = ", ".join(_quoted(connection, table) for table in tables)
            connection.execute(text(f"LOCK TABLE {names} IN EXCLUSIVE MODE"))
        refuse_rows(connection, tables)
        yield connection


def _take_time(connection: Connection) -> None:
    """Lift the limits of time that keep requests short."""
    if connection.dialect.name != "sqlite":
        for statement in _UNHURRIED:
            connection.execute(text(statement))


def refuse_rows(connection: Connection, tables: Sequence[Table]) -> None:
    """Raise :class:`CopyError` when a table that is there has a row."""
    present = set(inspect(connection).get_table_names())
    held = [
        table.name
        for table in tables
        if table.name in present
        and connection.execute(select(text("1")).select_from(table).limit(1)).first() is not None
    ]
    if held:
        raise CopyError(
            f"the database to be filled is not empty: there are rows in {', '.join(sorted(held))}; "
            "make an empty database, and name that one"
        )


def copy_all(
    source: Connection, target: Connection, tables: Sequence[Table], on_rows: Progress
) -> None:
    """Copy every row and read it back. Raises :class:`CopyError`.

    `on_rows` is told how many rows of how many are done; each counts twice, for it is read twice.
    """
    total = 2 * sum(
        source.execute(select(func.count()).select_from(table)).scalar_one() for table in tables
    )
    done = 0

    def tell(rows: int) -> None:
        nonlocal done
        done += rows
        on_rows(done, total)

    sent = {}
    with _told_of_rows(), unburdened(target, [table.name for table in tables]):
        for table in tables:
            with _told_of_rows(f"{table.name}: "):
                sent[table.name] = _copy(source, target, table, tell)
            _carry_counter(source, target, table)
            faults.reach(faults.AFTER_TABLE_COPIED)
    for table in tables:
        found = tally(target, table, tell)
        if found != sent[table.name]:
            raise CopyError(
                f"{table.name}: {sent[table.name].rows} rows were copied, and the {found.rows} "
                "read back are not the same"
            )


def tally(
    connection: Connection, table: Table, on_rows: Callable[[int], None] = lambda _: None
) -> Tally:
    """Return the number and the hash of a table's rows."""
    count, digest = 0, hashlib.sha256()
    for batch in batches(connection, table):
        digest.update(plain_form(batch))
        count += len(batch)
        on_rows(len(batch))
    return Tally(count, digest.hexdigest())


def _copy(
    source: Connection, target: Connection, table: Table, on_rows: Callable[[int], None]
) -> Tally:
    count, digest = 0, hashlib.sha256()
    with _writing(target, table) as write:
        for batch in batches(source, table):
            digest.update(plain_form(batch))
            write(batch)
            count += len(batch)
            on_rows(len(batch))
    return Tally(count, digest.hexdigest())


@contextmanager
def _told_of_rows(where: str = "") -> Iterator[None]:
    """Say of a row that the target refuses why it does. Raises :class:`CopyError`."""
    try:
        yield
    except (DataError, IntegrityError) as error:
        cause = (str(error.orig).splitlines() or ["no reason given"])[0]
        raise CopyError(f"{where}a row was not accepted: {cause}") from error


@contextmanager
def _writing(target: Connection, table: Table) -> Iterator[Callable[[Sequence[Row[Any]]], object]]:
    """Give what writes rows into a table."""
    columns = columns_of(table)
    values_of = _reader(columns)
    if target.dialect.name != "sqlite":
        with copying_into(target, table, columns) as write_row:
            yield lambda batch: [write_row(values_of(row)) for row in batch]
        return
    names = [column.key for column in columns]

    def write(batch: Sequence[Row[Any]]) -> None:
        rows = [dict(zip(names, values_of(row), strict=True)) for row in batch]
        target.execute(insert(table), rows)

    yield write


def columns_of(table: Table) -> list[Column[Any]]:
    """Return the columns of a table that are not computed out of others."""
    return [column for column in table.columns if column.computed is None]


def _is_document(column: Column[Any]) -> bool:
    return isinstance(column.type, JSON)


def batches(connection: Connection, table: Table) -> Iterator[Sequence[Row[Any]]]:
    """Give the rows in order; behind the columns stands whether each document is no value at all.

    In Python the null of a JSON document and that of the database are both None.
    """
    columns = columns_of(table)
    missing = [column.is_(null()) for column in columns if _is_document(column)]
    statement = select(*columns, *missing).order_by(*_order(connection, table))
    batch_rows = BATCH_LARGE_ROWS if table.info == LARGE_ROWS else BATCH_ROWS
    rows = connection.execute(statement.execution_options(yield_per=batch_rows))
    try:
        yield from rows.partitions()
    except ValueError as error:
        raise CopyError(f"{table.name}: a value cannot be read: {error}") from error
    except OperationalError as error:
        # SQLite itself has a name for each of its failures; text that is none is Python's finding.
        if connection.dialect.name != "sqlite" or hasattr(error.orig, "sqlite_errorname"):
            raise
        raise CopyError(f"{table.name}: a value cannot be read: {error.orig}") from error


def _order(connection: Connection, table: Table) -> list[Any]:
    """Return an order that both databases understand alike, also for text."""
    keys = list(table.primary_key.columns) or list(table.columns)
    if connection.dialect.name == "sqlite":
        return keys
    return [collate(key, "C") if isinstance(key.type, String) else key for key in keys]


def _reader(columns: Sequence[Column[Any]]) -> Callable[[Row[Any]], list[Any]]:
    """Return what takes the values out of a row that :func:`batches` gave."""
    width = len(columns)
    documents = [position for position, column in enumerate(columns) if _is_document(column)]

    def values_of(row: Row[Any]) -> list[Any]:
        values = list(row[:width])
        for position, is_missing in zip(documents, row[width:], strict=True):
            if is_missing:
                values[position] = null()
        return values

    return values_of


def plain_form(rows: Sequence[Row[Any]]) -> bytes:
    """Return rows in the one form over which hashes are taken, whatever database they are of."""
    return "".join([f"{_ENCODER.encode(list(row))}\n" for row in rows]).encode()


def _plain(value: object) -> str:
    """Return a value as text that does not depend on the database it came from."""
    if isinstance(value, datetime):
        is_naive = value.tzinfo is None
        return (value.replace(tzinfo=UTC) if is_naive else value.astimezone(UTC)).isoformat()
    if isinstance(value, bytes | bytearray | memoryview):
        return bytes(value).hex()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    return str(value)


_ENCODER = json.JSONEncoder(default=_plain, sort_keys=True)


def _carry_counter(source: Connection, target: Connection, table: Table) -> None:
    """Let no id be given again, not even that of a row which was deleted since."""
    set_counter(target, table, given_id(source, table))


def set_counter(target: Connection, table: Table, given: int) -> None:
    """Let the counter of a table go on behind the highest id that was ever given."""
    column = table.autoincrement_column
    if column is None:
        return
    given = max(given, target.execute(select(func.max(column))).scalar() or 0)
    if given == 0:
        return
    if target.dialect.name != "sqlite":
        sequence = _sequence(target, table, column)
        if sequence is not None:
            target.execute(text("SELECT setval(:name, :given)"), {"name": sequence, "given": given})
    elif table.dialect_options["sqlite"]["autoincrement"]:
        values = {"name": table.name, "given": given}
        target.execute(text("DELETE FROM sqlite_sequence WHERE name = :name"), values)
        target.execute(text("INSERT INTO sqlite_sequence VALUES (:name, :given)"), values)


def given_id(connection: Connection, table: Table) -> int:
    """Return the highest id that was ever given, as far as the database's counter knows."""
    column = table.autoincrement_column
    if column is None:
        return 0
    if connection.dialect.name == "sqlite":
        statement = text("SELECT seq FROM sqlite_sequence WHERE name = :name")
        return connection.execute(statement, {"name": table.name}).scalar() or 0
    sequence = _sequence(connection, table, column)
    if sequence is None:
        return 0
    last, was_given = connection.execute(
        text(f"SELECT last_value, is_called FROM {sequence}")
    ).one()
    return int(last) if was_given else 0


def _sequence(connection: Connection, table: Table, column: Column[Any]) -> str | None:
    names = {"table": _quoted(connection, table), "column": column.name}
    statement = text("SELECT pg_get_serial_sequence(:table, :column)")
    found: str | None = connection.execute(statement, names).scalar()
    return found


def _quoted(connection: Connection, table: Table) -> str:
    return connection.dialect.identifier_preparer.format_table(table)
