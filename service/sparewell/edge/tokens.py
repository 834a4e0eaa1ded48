"""Tokens: 256 random bits, shown once, kept as a SHA-256. Knows no HTTP.

Time tells a guesser nothing: what is looked up is a digest, which cannot be approached letter by
letter, and it is compared in constant time once more.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from sqlalchemy import Table, bindparam, select
from sqlalchemy.orm import Session

from sparewell.edge.tables import Token
from sparewell.errors import Conflict, NotFound

_MARK = "spare-"
_SECRET_BYTES = 32
_SHOWN_CHARACTERS = 12


def new_token(
    session: Session,
    name: str,
    scope: str,
    now: datetime,
    *,
    expires_at: datetime | None = None,
    randomness: Callable[[int], str] = secrets.token_urlsafe,
) -> str:
    """Make a token and return its text, which is kept nowhere. Raises :class:`Conflict`."""
    if session.scalar(select(Token.id).where(Token.name == name)) is not None:
        raise Conflict(f"there is already a token called {name!r}; choose another name")
    text = _MARK + randomness(_SECRET_BYTES)
    session.add(
        Token(
            name=name,
            prefix=text[:_SHOWN_CHARACTERS],
            sha256=digest_of(text).hex(),
            scope=scope,
            created_at=now,
            expires_at=expires_at,
        )
    )
    session.flush()
    return text


_TOKEN = cast("Table", Token.__table__).c
_FIND = select(
    _TOKEN.id, _TOKEN.name, _TOKEN.scope, _TOKEN.sha256, _TOKEN.expires_at, _TOKEN.revoked_at
).where(_TOKEN.sha256 == bindparam("sha256"))


@dataclass(frozen=True)
class Bearer:
    """What is known of whoever shows a token."""

    id: int
    name: str
    scope: str


def find_token(session: Session, digest: bytes, now: datetime) -> Bearer | None:
    """Return whose the token of a digest is, unless it is revoked or over."""
    token = session.connection().execute(_FIND, {"sha256": digest.hex()}).first()
    if token is None or not hmac.compare_digest(token.sha256, digest.hex()):
        return None
    is_over = token.expires_at is not None and token.expires_at <= now
    if is_over or token.revoked_at is not None:
        return None
    return Bearer(token.id, token.name, token.scope)


def all_tokens(session: Session) -> Sequence[Token]:
    """Return every token ever made, the oldest first."""
    return session.scalars(select(Token).order_by(Token.id)).all()


def revoke_token(session: Session, name: str, now: datetime) -> None:
    """Make a token worthless from now on. Raises :class:`NotFound`."""
    token = session.scalar(select(Token).where(Token.name == name))
    if token is None:
        raise NotFound(f"there is no token called {name!r}")
    token.revoked_at = token.revoked_at or now


def digest_of(text: str) -> bytes:
    """Return what is kept of a token's text."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
