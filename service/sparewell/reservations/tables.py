"""Reservations: pieces promised to a job, each of which ends exactly once."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, false, text
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    IDENTITY,
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Moment,
    OptionalMoment,
    index_where_given,
)


class ReservationState(StrEnum):
    """How a promise stands: held, then fetched into the tray, then one of its ends."""

    HELD = "held"
    IN_TRAY = "in_tray"
    USED = "used"
    RELEASED = "released"
    SPOILED = "spoiled"
    LAPSED = "lapsed"
    SETTLED = "settled"


ENDS = (
    ReservationState.USED,
    ReservationState.RELEASED,
    ReservationState.SPOILED,
    ReservationState.LAPSED,
    ReservationState.SETTLED,
)


class Reservation(Base):
    """Pieces promised to a job. Each ends once: used, released, spoiled, lapsed or settled.

    What is fixed in a promised piece goes with that piece's reservation, whatever becomes of it.
    What is settled was replaced by other pieces for the same need, as a whole: `moved_to_id` is the
    reservation that took its place, `moved_for_id` the job that it made room for; both jobs say so
    until each has read it. A `pinned` one stays where it is. `margins` are those of its fit when it
    was promised: whole nanometres, or a number as text.
    """

    __tablename__ = "reservation"
    __table_args__ = (
        CheckConstraint(
            f"promised = quantity - {' - '.join(ENDS)}", name="each_piece_ends_once_of_five"
        ),
        CheckConstraint("quantity > 0 AND promised >= 0", name="counts_possible"),
        CheckConstraint(" AND ".join(f"{end} >= 0" for end in ENDS), name="five_ends_possible"),
        CheckConstraint("settled > 0 OR moved_to_id IS NULL", name="settled_has_successor"),
        CheckConstraint("in_tray >= 0 AND in_tray <= promised", name="tray_holds_promised"),
        Index(
            "ix_reservation_open_lot",
            "lot_id",
            sqlite_where=text("promised > 0"),
            postgresql_where=text("promised > 0"),
        ),
        index_where_given("reservation", "moved_to_id"),
        index_where_given("reservation", "moved_for_id"),
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
    settled: Mapped[int] = mapped_column(BigInteger, default=0, server_default="0")
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
    pinned: Mapped[bool] = mapped_column(default=False, server_default=false())
    # It came later, so rows that are copied in their order name it before it is there.
    moved_to_id: Mapped[int | None] = mapped_column(
        IDENTITY, ForeignKey("reservation.id", deferrable=True, initially="DEFERRED")
    )
    moved_for_id: Mapped[int | None] = mapped_column(IDENTITY, ForeignKey("job.id"))
    move_read_at: Mapped[OptionalMoment]
    move_read_there_at: Mapped[OptionalMoment]

    @property
    def state(self) -> str:
        """How it stands: held, in_tray once every promised piece is fetched, else its end."""
        if self.promised == 0:
            return self.ended_as or ReservationState.RELEASED
        is_fetched = self.in_tray == self.promised
        return ReservationState.IN_TRAY if is_fetched else ReservationState.HELD
