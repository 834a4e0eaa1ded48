"""Places, lots, the ledger of movements, reservations, and donors.

The constraints state the rules that may never break once more, under the operations that keep
them: no more is promised than is in hand, and each promised piece ends exactly once.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    ForeignKey,
    Index,
    String,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.catalogue.tables import DimensionColumns, Part, column_of, dimension_checks
from sparewell.database.columns import (
    IDENTITY,
    TABLE_OPTIONS,
    Base,
    Document,
    DocumentList,
    Identity,
    Moment,
    OptionalMoment,
)
from sparewell.database.numbers import DONOR_PREFIX, number_of
from sparewell.measure.dimensions import LEADING_DIMENSIONS


class Place(Base):
    """Where pieces lie: a drawer, a donor, or a job's tray."""

    __tablename__ = "place"
    __table_args__ = (
        CheckConstraint("type IN ('drawer', 'donor', 'tray')", name="type_one_of_three"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    code: Mapped[str] = mapped_column(String(40), unique=True)
    type: Mapped[str] = mapped_column(String(10))
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]


class Lot(DimensionColumns, Base):
    """Pieces that came together.

    The dimension columns hold what was measured on the lot or follows from it, else what its part
    says, else what the number on its packet stands for; `measured` keeps the text of each measured
    one, `measured_how` its spread and instrument where they were said. `attributes` are what its
    kind describes besides lengths: the starts of a thread, a grade. `cost_minor` is the cost of the
    pieces still in hand. `condition` is null while the pieces are as they arrived. What came out of
    a donor keeps it for ever, and `part_of_lot_id` is the piece that it is still fixed in: the cap
    that has the clip.
    """

    __tablename__ = "lot"
    __table_args__ = (
        *dimension_checks(),
        CheckConstraint("0 <= promised AND promised <= in_hand", name="promised_in_hand"),
        CheckConstraint("has_available = (in_hand > promised)", name="has_available_true"),
        CheckConstraint("cost_minor >= 0", name="cost_positive"),
        CheckConstraint(
            "condition IN ('as new', 'used', 'cut', 'offcut', 'unchecked')", name="condition_known"
        ),
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
    measured: Mapped[Document]
    measured_how: Mapped[Document] = mapped_column(server_default=text("'{}'"))
    attributes: Mapped[Document]
    material: Mapped[str | None] = mapped_column(String(60))
    material_confidence: Mapped[str] = mapped_column(String(20))
    made_on: Mapped[str | None] = mapped_column(String(20))
    made_from: Mapped[date | None]
    arrived_at: Mapped[Moment]
    note: Mapped[str] = mapped_column(String(2000))
    cost_minor: Mapped[int | None] = mapped_column(BigInteger)
    in_hand: Mapped[int] = mapped_column(BigInteger)
    promised: Mapped[int] = mapped_column(BigInteger)
    has_available: Mapped[bool]

    part: Mapped[Part | None] = relationship(lazy="joined")
    place: Mapped[Place] = relationship(lazy="joined", innerjoin=True)

    @property
    def available(self) -> int:
        """How many pieces are in hand and not promised."""
        return self.in_hand - self.promised


class Act(Base):
    """One thing done by one person at one moment; its movements belong together.

    An act that undoes another names it; no act is undone twice.
    """

    __tablename__ = "act"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    at: Mapped[Moment]
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    note: Mapped[str] = mapped_column(String(2000))
    undoes_act_id: Mapped[int | None] = mapped_column(ForeignKey("act.id"), unique=True)


class Movement(Base):
    """One line of the ledger. Lines are only ever added: triggers refuse anything else."""

    __tablename__ = "movement"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    act_id: Mapped[int] = mapped_column(ForeignKey("act.id"), index=True)
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.id"), index=True)
    verb: Mapped[str] = mapped_column(String(20))
    change: Mapped[int] = mapped_column(BigInteger)
    cost_change_minor: Mapped[int] = mapped_column(BigInteger)
    pieces: Mapped[int] = mapped_column(BigInteger)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"))
    from_place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    reservation_id: Mapped[int | None] = mapped_column(ForeignKey("reservation.id"), index=True)
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), index=True)

    act: Mapped[Act] = relationship(lazy="joined", innerjoin=True)
    place: Mapped[Place] = relationship(lazy="joined", innerjoin=True, foreign_keys=[place_id])
    from_place: Mapped[Place | None] = relationship(lazy="joined", foreign_keys=[from_place_id])


class Reservation(Base):
    """Pieces promised to a job. Each ends once: used, released, spoiled or lapsed.

    What is fixed in a promised piece goes with that piece's reservation, whatever becomes of it.
    """

    __tablename__ = "reservation"
    __table_args__ = (
        CheckConstraint(
            "promised = quantity - used - released - spoiled - lapsed", name="each_piece_ends_once"
        ),
        CheckConstraint("quantity > 0 AND promised >= 0", name="counts_possible"),
        CheckConstraint(
            "used >= 0 AND released >= 0 AND spoiled >= 0 AND lapsed >= 0", name="ends_possible"
        ),
        CheckConstraint("in_tray >= 0 AND in_tray <= promised", name="tray_holds_promised"),
        Index(
            "ix_reservation_open_lot",
            "lot_id",
            sqlite_where=text("promised > 0"),
            postgresql_where=text("promised > 0"),
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.id"), index=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    need_id: Mapped[int | None] = mapped_column(IDENTITY, ForeignKey("need.id"), index=True)
    goes_with_id: Mapped[int | None] = mapped_column(ForeignKey("reservation.id"), index=True)
    quantity: Mapped[int] = mapped_column(BigInteger)
    promised: Mapped[int] = mapped_column(BigInteger)
    in_tray: Mapped[int] = mapped_column(BigInteger)
    used: Mapped[int] = mapped_column(BigInteger)
    released: Mapped[int] = mapped_column(BigInteger)
    spoiled: Mapped[int] = mapped_column(BigInteger)
    lapsed: Mapped[int] = mapped_column(BigInteger)
    ended_as: Mapped[str | None] = mapped_column(String(10))
    verdict: Mapped[str | None] = mapped_column(String(10))
    why: Mapped[str | None] = mapped_column(String(2000))
    override: Mapped[str | None] = mapped_column(String(2000))
    note: Mapped[str] = mapped_column(String(2000))
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    created_at: Mapped[Moment]
    expires_at: Mapped[OptionalMoment]

    @property
    def state(self) -> str:
        """How it stands: held, in_tray once every promised piece is fetched, else its end."""
        if self.promised == 0:
            return self.ended_as or "released"
        return "in_tray" if self.in_tray == self.promised else "held"


class Donor(Base):
    """A pen kept to be stripped. Its pieces lie in the place whose code is its number."""

    __tablename__ = "donor"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    pen_id: Mapped[int | None] = mapped_column(ForeignKey("pen.id"), unique=True)
    called: Mapped[str] = mapped_column(String(200))
    materials: Mapped[DocumentList]
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]

    components: Mapped[list[Component]] = relationship(order_by="Component.id", lazy="selectin")

    @property
    def number(self) -> str:
        """The number people use, such as DON-0001."""
        return number_of(DONOR_PREFIX, self.id)


class Component(Base):
    """One line of a donor's checklist.

    What is present or unchecked is a lot of one piece; what is damaged or missing is no piece. Who
    has a piece now stands in the reservations and the ledger, not here.
    """

    __tablename__ = "donor_component"
    __table_args__ = (
        CheckConstraint(
            "state IN ('present', 'unchecked', 'damaged', 'missing')", name="state_known"
        ),
        CheckConstraint(
            "lot_id IS NOT NULL OR state IN ('damaged', 'missing')", name="present_is_a_lot"
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    donor_id: Mapped[int] = mapped_column(ForeignKey("donor.id"), index=True)
    lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.id"), unique=True)
    part_of_id: Mapped[int | None] = mapped_column(ForeignKey("donor_component.id"), index=True)
    kind: Mapped[str] = mapped_column(String(40))
    state: Mapped[str] = mapped_column(String(10))
    attributes: Mapped[Document]
    note: Mapped[str] = mapped_column(String(2000))

    lot: Mapped[Lot | None] = relationship()
