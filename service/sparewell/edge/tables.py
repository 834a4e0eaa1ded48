"""Tokens, and the answers kept for repeated requests."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, LargeBinary, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    Identity,
    Moment,
    OptionalMoment,
    one_of,
)
from sparewell.edge.scopes import SCOPES


class Token(Base):
    """A key to the service. Only its SHA-256 is kept; the prefix lets people tell them apart."""

    __tablename__ = "token"
    __table_args__ = (
        CheckConstraint(one_of("scope", SCOPES), name="scope_known"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    name: Mapped[str] = mapped_column(String(100), unique=True)
    prefix: Mapped[str] = mapped_column(String(12))
    sha256: Mapped[str] = mapped_column(String(64), unique=True)
    scope: Mapped[str] = mapped_column(String(10))
    created_at: Mapped[Moment]
    expires_at: Mapped[OptionalMoment]
    revoked_at: Mapped[OptionalMoment]


class KeptAnswer(Base):
    """The first answer to a request with an Idempotency-Key; empty while it is being made."""

    __tablename__ = "kept_answer"
    __table_args__ = (
        UniqueConstraint("token_id", "method", "path", "key"),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    token_id: Mapped[int] = mapped_column(ForeignKey("token.id"))
    method: Mapped[str] = mapped_column(String(10))
    path: Mapped[str] = mapped_column(String(300))
    key: Mapped[str] = mapped_column(String(255))
    fingerprint: Mapped[str] = mapped_column(String(64))
    status: Mapped[int | None]
    headers: Mapped[Document]
    body: Mapped[bytes | None] = mapped_column(LargeBinary)
    created_at: Mapped[Moment] = mapped_column(index=True)
