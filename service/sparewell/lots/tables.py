"""Lots: pieces that came together. No more is promised of one than is in hand."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.catalogue.tables import DimensionColumns, Part, column_of, dimension_checks
from sparewell.database.columns import TABLE_OPTIONS, Base, Document, Identity, Moment, one_of
from sparewell.database.versions import Versioned
from sparewell.lots.conditions import Condition, Confidence
from sparewell.measure.dimensions import LEADING_DIMENSIONS
from sparewell.places.tables import Place


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
        # No balance stands in these indexes, so PostgreSQL keeps its cheap in-place updates.
        *(
            Index(
                f"ix_lot_fit_{lead}",
                "kind",
                column_of(lead),
                "made_from",
                "id",
                sqlite_where=text("has_available = 1"),
                postgresql_where=text("has_available"),
            )
            for lead in LEADING_DIMENSIONS
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    kind: Mapped[str] = mapped_column(String(40), index=True)
    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), index=True)
    parent_lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.id"), index=True)
    part_of_lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.id"), index=True)
    donor_id: Mapped[int | None] = mapped_column(ForeignKey("donor.id"), index=True)
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
