"""Lots: pieces that came together. No more is promised of one than is in hand."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.catalogue.tables import DimensionColumns, Part, column_of, dimension_checks
from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Moment,
    index_where_given,
    one_of,
)
from sparewell.database.versions import Versioned
from sparewell.lots.conditions import Condition, Confidence
from sparewell.measure.dimensions import LEADING_DIMENSIONS
from sparewell.places.tables import Place


def _walked_by(column: str, lead: str) -> tuple[Index, Index]:
    """Return the two indexes along which the search walks away from a size.

    Both begin with the nearest and have, of one size, the oldest first; after the id stands what a
    walk asks of pieces that it passes by. No balance stands in them, so PostgreSQL keeps its cheap
    in-place updates.
    """
    then = (text("(made_from IS NULL)"), "made_from", "id", "material", "arrived_at", "condition")
    is_known = f"{column} IS NOT NULL"
    return (
        Index(
            f"ix_lot_fit_{lead}_up",
            *("kind", column, *then),
            sqlite_where=text("has_available = 1"),
            postgresql_where=text("has_available"),
        ),
        Index(
            f"ix_lot_fit_{lead}_down",
            *("kind", text(f"{column} DESC"), *then),
            sqlite_where=text(f"has_available = 1 AND {is_known}"),
            postgresql_where=text(f"has_available AND {is_known}"),
        ),
    )


class Lot(DimensionColumns, Versioned, Base):
    """Pieces that came together.

    The dimension columns hold what was measured on the lot or follows from it, else what its part
    says, else what the number on its packet stands for; `measured` keeps the text of each measured
    one, `measured_how` its spread and instrument where they were said. `attributes` are what its
    kind describes besides lengths: the starts of a thread, a grade. `cost_minor` is the cost of the
    pieces still in hand. `condition` is null while the pieces are as they arrived. What came out of
    a donor keeps it for ever, and `part_of_lot_id` is the piece that it is still fixed in: the cap
    that has the clip.
    """

    NO_FACTS = frozenset({"in_hand", "promised", "has_available", "cost_minor"})

    __tablename__ = "lot"
    __table_args__ = (
        *dimension_checks(),
        CheckConstraint("0 <= promised AND promised <= in_hand", name="promised_in_hand"),
        CheckConstraint("has_available = (in_hand > promised)", name="has_available_true"),
        CheckConstraint("cost_minor >= 0", name="cost_positive"),
        CheckConstraint(one_of("condition", Condition), name="condition_known"),
        *(
            index_where_given("lot", column)
            for column in ("parent_lot_id", "part_of_lot_id", "donor_id")
        ),
        *(index for lead in LEADING_DIMENSIONS for index in _walked_by(column_of(lead), lead)),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    kind: Mapped[str] = mapped_column(String(40), index=True)
    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), index=True)
    parent_lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.id"))
    part_of_lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.id"))
    donor_id: Mapped[int | None] = mapped_column(ForeignKey("donor.id"))
    condition: Mapped[str | None] = mapped_column(String(10))
    label: Mapped[str | None] = mapped_column(String(200))
    measured: Mapped[Document] = mapped_column(default=dict)
    measured_how: Mapped[Document] = mapped_column(default=dict, server_default=text("'{}'"))
    attributes: Mapped[Document] = mapped_column(default=dict)
    material: Mapped[str | None] = mapped_column(String(60))
    material_confidence: Mapped[str] = mapped_column(String(20), default=Confidence.UNKNOWN)
    made_on: Mapped[str | None] = mapped_column(String(20))
    made_from: Mapped[date | None]
    arrived_at: Mapped[Moment]
    note: Mapped[str] = mapped_column(String(2000), default="")
    cost_minor: Mapped[int | None] = mapped_column(BigInteger)
    in_hand: Mapped[int] = mapped_column(BigInteger)
    promised: Mapped[int] = mapped_column(BigInteger, default=0)
    has_available: Mapped[bool] = mapped_column(default=True)

    part: Mapped[Part | None] = relationship(lazy="joined")
    place: Mapped[Place] = relationship(lazy="joined", innerjoin=True)

    @property
    def available(self) -> int:
        """How many pieces are in hand and not promised."""
        return self.in_hand - self.promised
