"""Reservations: pieces promised to a job, each of which ends exactly once."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    IDENTITY,
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Moment,
    OptionalMoment,
)


class ReservationState(StrEnum):
    """How a promise stands: held, then fetched into the tray, then one of its ends."""

    HELD = "held"
    IN_TRAY = "in_tray"
    USED = "used"
    RELEASED = "released"
    SPOILED = "spoiled"
    LAPSED = "lapsed"


ENDS = (
    ReservationState.USED,
    ReservationState.RELEASED,
    ReservationState.SPOILED,
    ReservationState.LAPSED,
)


class Reservation(Base):
    """Pieces promised to a job. Each ends once: used, released, spoiled or lapsed.

    What is fixed in a promised piece goes with that piece's reservation, whatever becomes of it.
    `margins` are those of its fit when it was promised: whole nanometres, or a number as text.
    """

    __tablename__ = "reservation"
    __table_args__ = (
        CheckConstraint(f"promised = quantity - {' - '.join(ENDS)}", name="each_piece_ends_once"),
        CheckConstraint("quantity > 0 AND promised >= 0", name="counts_possible"),
        CheckConstraint(" AND ".join(f"{end} >= 0" for end in ENDS), name="ends_possible"),
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
    in_tray: Mapped[int] = mapped_column(BigInteger, default=0)
    used: Mapped[int] = mapped_column(BigInteger, default=0)
    released: Mapped[int] = mapped_column(BigInteger, default=0)
    spoiled: Mapped[int] = mapped_column(BigInteger, default=0)
    lapsed: Mapped[int] = mapped_column(BigInteger, default=0)
    ended_as: Mapped[str | None] = mapped_column(String(10))
    verdict: Mapped[str | None] = mapped_column(String(10))
    why: Mapped[str | None] = mapped_column(String(2000))
    override: Mapped[str | None] = mapped_column(String(2000))
    calculator: Mapped[str | None] = mapped_column(String(40))
    margins: Mapped[Document] = mapped_column(default=dict, server_default=text("'{}'"))
    glue: Mapped[str] = mapped_column(String(200), default="", server_default="")
    note: Mapped[str] = mapped_column(String(2000), default="")
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    created_at: Mapped[Moment]
    expires_at: Mapped[OptionalMoment]

    @property
    def state(self) -> str:
        """How it stands: held, in_tray once every promised piece is fetched, else its end."""
        if self.promised == 0:
            return self.ended_as or ReservationState.RELEASED
        is_fetched = self.in_tray == self.promised
        return ReservationState.IN_TRAY if is_fetched else ReservationState.HELD
