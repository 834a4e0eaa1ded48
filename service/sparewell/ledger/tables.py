"""The ledger: acts, and the movements of pieces that belong to each."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import BigInteger, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.database.columns import TABLE_OPTIONS, Base, Identity, Moment, index_where_given
from sparewell.places.tables import Place


class Verb(StrEnum):
    """What happened to pieces."""

    ARRIVED = "arrived"
    FITTED = "fitted"
    SPOILED = "spoiled"
    COUNTED = "counted"
    DISCARDED = "discarded"
    MOVED = "moved"
    VALUED = "valued"
    CUT = "cut"
    OPENED = "opened"
    PUNCHED = "punched"
    PUT_BACK = "put_back"
    UNDONE = "undone"
    STRIPPED = "stripped"
    CHECKED = "checked"


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
    __table_args__ = (
        *(index_where_given("movement", column) for column in ("reservation_id", "job_id")),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    act_id: Mapped[int] = mapped_column(ForeignKey("act.id"), index=True)
    lot_id: Mapped[int] = mapped_column(ForeignKey("lot.id"), index=True)
    verb: Mapped[str] = mapped_column(String(20))
    change: Mapped[int] = mapped_column(BigInteger)
    cost_change_minor: Mapped[int] = mapped_column(BigInteger)
    pieces: Mapped[int] = mapped_column(BigInteger)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"))
    from_place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    reservation_id: Mapped[int | None] = mapped_column(ForeignKey("reservation.id"))
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"))

    act: Mapped[Act] = relationship(lazy="joined", innerjoin=True)
    place: Mapped[Place] = relationship(lazy="joined", innerjoin=True, foreign_keys=[place_id])
    from_place: Mapped[Place | None] = relationship(lazy="joined", foreign_keys=[from_place_id])
