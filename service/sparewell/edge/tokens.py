"""Tokens: 256 random bits, shown once, kept as a SHA-256. Knows no HTTP.

Time tells a guesser nothing: what is looked up is a digest, which cannot be approached letter by
letter, and it is compared in constant time once more.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Callable, Sequence
from datetime import datetime

from sqlalchemy import select
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


def find_token(session: Session, digest: bytes, now: datetime) -> Token | None:
    """Return the token of a digest, unless it is revoked or over."""
    token = session.scalar(select(Token).where(Token.sha256 == digest.hex()))
    if token is None or not hmac.compare_digest(token.sha256, digest.hex()):
        return None
    is_over = token.expires_at is not None and token.expires_at <= now
    return None if is_over or token.revoked_at is not None else token


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
