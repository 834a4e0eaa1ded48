"""How what was measured on a lot was measured; the third dimension of a ring from two.

Until now a ring of which the outside and the inside diameter were measured had no cross-section,
and a bag of sacs of which only the packet's number is known had no size, so no search found them.
"""

import re
from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0010"
down_revision: str | None = "0009"
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None

_LOT = sa.table(
    "lot",
    sa.column("id", sa.BigInteger),
    sa.column("kind", sa.String),
    sa.column("label", sa.String),
    sa.column("part_id", sa.BigInteger),
    sa.column("measured", sa.JSON),
    sa.column("outside_diameter_nanometres", sa.BigInteger),
    sa.column("inside_diameter_nanometres", sa.BigInteger),
    sa.column("cross_section_nanometres", sa.BigInteger),
)
_SAC_NUMBER = re.compile(r"(?:sac|size|no)?[-. #]*([0-9]{1,2})(?:/64)?", re.IGNORECASE)
_64TH_NANOMETRES = 396_875
_SMALLEST, _LARGEST = 8, 26


def upgrade() -> None:
    op.add_column(
        "lot", sa.Column("measured_how", sa.JSON(), server_default=sa.text("'{}'"), nullable=False)
    )
    _fill_rings()
    _fill_sacs()


def _fill_rings() -> None:
    """Write what follows from two measured dimensions of a ring."""
    connection = op.get_bind()
    for lot in connection.execute(sa.select(_LOT).where(_LOT.c.kind == "o_ring")).all():
        measured = set(lot.measured)
        outside = lot.outside_diameter_nanometres
        if {"outside_diameter", "inside_diameter"} == measured:
            value = (outside - lot.inside_diameter_nanometres) // 2
            name = "cross_section_nanometres"
        elif {"outside_diameter", "cross_section"} == measured:
            value = outside - 2 * lot.cross_section_nanometres
            name = "inside_diameter_nanometres"
        else:
            continue
        if value > 0:
            connection.execute(sa.update(_LOT).where(_LOT.c.id == lot.id).values({name: value}))


def _fill_sacs() -> None:
    """Write the size that the packet's number stands for, where nothing else is known."""
    connection = op.get_bind()
    unknown = sa.select(_LOT.c.id, _LOT.c.label).where(
        _LOT.c.kind == "sac",
        _LOT.c.part_id.is_not(None),
        _LOT.c.label.is_not(None),
        _LOT.c.outside_diameter_nanometres.is_(None),
        _LOT.c.inside_diameter_nanometres.is_(None),
    )
    for lot in connection.execute(unknown).all():
        number = _SAC_NUMBER.fullmatch(lot.label.strip())
        if number is None or not _SMALLEST <= int(number[1]) <= _LARGEST:
            continue
        size = int(number[1]) * _64TH_NANOMETRES
        connection.execute(
            sa.update(_LOT).where(_LOT.c.id == lot.id).values(outside_diameter_nanometres=size)
        )


def downgrade() -> None:
    op.drop_column("lot", "measured_how")
