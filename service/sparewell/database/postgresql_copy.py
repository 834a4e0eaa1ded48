"""Very many rows into empty tables of PostgreSQL: by COPY, past indexes and references."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Column, Connection, Table, text
from sqlalchemy.exc import DBAPIError

# Each name is quoted as it has to be; an index that stands behind a constraint stays with it.
_REFERENCES = text(
    "SELECT conrelid::regclass::text, quote_ident(conname), pg_get_constraintdef(oid) "
    "FROM pg_constraint WHERE contype = 'f' AND conrelid IN ("
    "SELECT to_regclass(quote_ident(name)) FROM unnest(CAST(:names AS text[])) AS name) "
    "ORDER BY conname"
)
_INDEXES = text(
    "SELECT indexrelid::regclass::text, pg_get_indexdef(indexrelid) "
    "FROM pg_index WHERE indrelid IN ("
    "SELECT to_regclass(quote_ident(name)) FROM unnest(CAST(:names AS text[])) AS name) "
    "AND NOT EXISTS (SELECT 1 FROM pg_constraint WHERE conindid = indexrelid) ORDER BY 1"
)


@contextmanager
def unburdened(target: Connection, names: Sequence[str]) -> Iterator[None]:
    """Take indexes and references off tables of PostgreSQL while they are filled.

    All are made again behind the last row, each from every row at once: one by one they would take
    most of the time. On SQLite nothing is taken off.
    """
    if target.dialect.name == "sqlite":
        yield
        return
    references = target.execute(_REFERENCES, {"names": names}).all()
    indexes = target.execute(_INDEXES, {"names": names}).all()
    for table, name, _ in references:
        _execute(target, f"ALTER TABLE {table} DROP CONSTRAINT {name}")
    for name, _ in indexes:
        _execute(target, f"DROP INDEX {name}")
    yield
    for _, definition in indexes:
        _execute(target, definition)
    for table, name, definition in references:
        _execute(target, f"ALTER TABLE {table} ADD CONSTRAINT {name} {definition}")
    # Or the planner would take every table for a small one, until the server comes round to it.
    for name in names:
        _execute(target, f"ANALYZE {target.dialect.identifier_preparer.quote(name)}")


def _execute(target: Connection, statement: str) -> None:
    """Execute what the catalogue handed out; to the driver a percent sign would be a parameter."""
    target.exec_driver_sql(statement.replace("%", "%%"))


@contextmanager
def copying_into(
    target: Connection, table: Table, columns: Sequence[Column[Any]]
) -> Iterator[Callable[[list[Any]], None]]:
    """Give what adds the values of one row, through the column types, to one COPY."""
    driver: Any = target.dialect.loaded_dbapi
    preparer = target.dialect.identifier_preparer
    names = ", ".join(map(preparer.format_column, columns))
    statement = f"COPY {preparer.format_table(table)} ({names}) FROM STDIN"
    types = [column.type.dialect_impl(target.dialect) for column in columns]
    forms = [
        (position, form)
        for position, type_ in enumerate(types)
        if (form := type_.bind_processor(target.dialect)) is not None
    ]

    def write_row(values: list[Any]) -> None:
        for position, form in forms:
            values[position] = form(values[position])
        copy.write_row(values)

    cursor: Any = target.connection.cursor()
    try:
        with cursor, cursor.copy(statement) as copy:
            yield write_row
    except driver.Error as error:
        raise DBAPIError.instance(
            statement, None, error, driver.Error, hide_parameters=True, dialect=target.dialect
        ) from error
