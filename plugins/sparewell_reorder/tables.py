"""The table this plugin owns: what was said of when each part is to be ordered."""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
)

from sparewell.plugin import Instant

ROW_ID = BigInteger().with_variant(Integer(), "sqlite")

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# The service's table of parts, as far as a foreign key must know it; this plugin does not own it.
PART = Table("part", MetaData(), Column("id", ROW_ID, primary_key=True))

THRESHOLD = Table(
    "reorder_threshold",
    METADATA,
    Column("id", ROW_ID, primary_key=True, autoincrement=True),
    Column("part_id", ROW_ID, ForeignKey(PART.c.id), nullable=False, index=True),
    Column("policy", String(40), nullable=True),
    Column("parameters", JSON, nullable=False),
    Column("why", String(2000), nullable=False),
    Column("actor", String(100), nullable=False),
    Column("person", String(100), nullable=True),
    Column("at", Instant(), nullable=False),
    CheckConstraint("policy <> ''", name="policy_named"),
    sqlite_autoincrement=True,
)
