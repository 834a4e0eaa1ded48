"""The table this plugin owns: which bar the bushes of a lot were turned from.

Its name begins with the plugin's, and its MetaData holds no other table, so that the service can
bring it up, check it and take it down by itself. Constraints are named by convention, so that a
later revision can name them too.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Date,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
)

ROW_ID = BigInteger().with_variant(Integer(), "sqlite")

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# The service's table of lots, as far as a foreign key must know it; it stands in a MetaData of its
# own because this plugin does not own it. A plugin refers to such tables and never changes them.
LOT = Table("lot", MetaData(), Column("id", ROW_ID, primary_key=True))

TURNING = Table(
    "bushings_turning",
    METADATA,
    Column("id", ROW_ID, primary_key=True, autoincrement=True),
    Column("lot_id", ROW_ID, ForeignKey(LOT.c.id), nullable=False, index=True),
    Column("stock", String(200), nullable=False),
    Column("turned_on", Date, nullable=False),
    CheckConstraint("stock <> ''", name="stock_named"),
    sqlite_autoincrement=True,
)
