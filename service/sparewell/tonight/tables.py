"""Evenings that were worked out."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    LARGE_ROWS,
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Instant,
    one_of,
)


class EveningState(StrEnum):
    """How far an evening has come."""

    WORKING = "working"
    READY = "ready"
    FAILED = "failed"


class KeptEvening(Base):
    """An evening as it was shown, and what it would promise; it is kept for a day."""

    __tablename__ = "evening"
    __table_args__ = (
        CheckConstraint(one_of("state", EveningState), name="state_known"),
        {**TABLE_OPTIONS, "info": LARGE_ROWS},
    )

    id: Mapped[Identity]
    state: Mapped[str] = mapped_column(String(10))
    made_at: Mapped[datetime] = mapped_column(Instant(), index=True)
    actor: Mapped[str] = mapped_column(String(100))
    person: Mapped[str | None] = mapped_column(String(100))
    shown: Mapped[Document]
    promises: Mapped[Document]
    failed: Mapped[str] = mapped_column(String(2000), default="", server_default="")
