"""Tokens: 256 random bits, shown once, kept as a SHA-256. Knows no HTTP."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable, Sequence
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.edge.tables import Token
from sparewell.errors import Conflict, NotFound

SCOPES = ("read", "write", "admin")
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
            sha256=_digest(text),
            scope=scope,
            created_at=now,
            expires_at=expires_at,
        )
    )
    session.flush()
    return text


def find_token(session: Session, text: str, now: datetime) -> Token | None:
    """Return the token behind a text, unless it is revoked or over."""
    token = session.scalar(select(Token).where(Token.sha256 == _digest(text)))
    if token is None or token.revoked_at is not None:
        return None
    if token.expires_at is not None and token.expires_at <= now:
        return None
    return token


def all_tokens(session: Session) -> Sequence[Token]:
    """Return every token ever made, the oldest first."""
    return session.scalars(select(Token).order_by(Token.id)).all()


def revoke_token(session: Session, name: str, now: datetime) -> None:
    """Make a token worthless from now on. Raises :class:`NotFound`."""
    token = session.scalar(select(Token).where(Token.name == name))
    if token is None:
        raise NotFound(f"there is no token called {name!r}")
    token.revoked_at = token.revoked_at or now


def allows(scope: str, needed: str) -> bool:
    """Whether a scope includes another: read ⊂ write ⊂ admin."""
    return SCOPES.index(scope) >= SCOPES.index(needed)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
