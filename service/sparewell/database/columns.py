"""The declarative base, the naming of constraints, and the column types every table shares."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import cache
from typing import Annotated, Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Column,
    ColumnDefault,
    DateTime,
    Dialect,
    Index,
    Integer,
    MetaData,
    String,
    TypeDecorator,
    inspect,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The base of every table of the core."""

    metadata = MetaData(naming_convention=NAMING)

    def __init__(self, **facts: Any) -> None:
        """Make a row; it has the defaults of its columns at once, not only when it is written."""
        unknown = [name for name in facts if not hasattr(type(self), name)]
        if unknown:
            raise TypeError(f"{type(self).__name__} has no {', '.join(unknown)}")
        for name, value in {**_defaults(type(self)), **facts}.items():
            setattr(self, name, value)


def _defaults(row: type[Base]) -> dict[str, Any]:
    return {name: make(None) if callable(make) else make for name, make in _default_of(row)}


@cache
def _default_of(row: type[Base]) -> list[tuple[str, Any]]:
    """Return the attributes whose columns have a default, and that or what makes it."""
    return [
        (each.key, column.default.arg)
        for each in inspect(row).column_attrs
        for column in each.columns
        if isinstance(column, Column) and isinstance(column.default, ColumnDefault)
    ]


class Instant(TypeDecorator[datetime]):
    """A moment in UTC. SQLite keeps no zone, so one is required going in and added coming out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a moment without a zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs a time zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - the signature is SQLAlchemy's
        """Return the moment with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


IDENTITY = BigInteger().with_variant(Integer(), "sqlite")
Identity = Annotated[int, mapped_column(IDENTITY, primary_key=True, autoincrement=True)]
Nanometres = Annotated[int, mapped_column(BigInteger)]
OptionalNanometres = Annotated[int | None, mapped_column(BigInteger)]
Moment = Annotated[datetime, mapped_column(Instant())]
OptionalMoment = Annotated[datetime | None, mapped_column(Instant())]
Document = Annotated[dict[str, Any], mapped_column(JSON)]
DocumentList = Annotated[list[Any], mapped_column(JSON)]


# AUTOINCREMENT keeps SQLite from giving a deleted row's id, and so its PEN- number, to another.
TABLE_OPTIONS = {"sqlite_autoincrement": True}


# A table of pictures is copied row by row: a thousand at once would not go into the memory.
LARGE_ROWS = {"rows are large": True}


def one_of(column: str, words: Iterable[str]) -> str:
    """Return the text of the CHECK that a column holds one of these words."""
    quoted = ", ".join(f"'{word}'" for word in words)
    return f"{column} IN ({quoted})"


def index_where_given(table: str, column: str) -> Index:
    """Return an index of a reference that most rows have not.

    An index full of nulls misleads a planner that has counted them: it would rather read the table.
    """
    given = text(f"{column} IS NOT NULL")
    return Index(f"ix_{table}_{column}", column, sqlite_where=given, postgresql_where=given)


class Signed:
    """Who noted it, and when."""

    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    at: Mapped[Moment]
