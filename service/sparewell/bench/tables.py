"""Who is signed in at the bench page."""

from __future__ import annotations

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.database.columns import TABLE_OPTIONS, Base, Identity, Moment, OptionalMoment
from sparewell.edge.tables import Token


class BenchSession(Base):
    """One browser that was signed in with a token. Only the SHA-256 of its secret is kept."""

    __tablename__ = "bench_session"
    __table_args__ = (TABLE_OPTIONS,)

    id: Mapped[Identity]
    token_id: Mapped[int] = mapped_column(ForeignKey("token.id"), index=True)
    sha256: Mapped[str] = mapped_column(String(64), unique=True)
    person: Mapped[str | None] = mapped_column(String(100))
    created_at: Mapped[Moment]
    expires_at: Mapped[Moment]
    ended_at: Mapped[OptionalMoment]

    token: Mapped[Token] = relationship(lazy="joined")
