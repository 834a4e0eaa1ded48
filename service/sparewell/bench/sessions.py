"""Sessions of the bench page: 256 random bits in a cookie, kept as a SHA-256. Knows no HTTP.

A session is never good for longer than the token it was opened with.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.bench.tables import BenchSession
from sparewell.edge.tokens import digest_of

LASTS = timedelta(days=14)
LONGEST_SECRET = 100
_SECRET_BYTES = 32


def open_session(session: Session, token_id: int, person: str | None, now: datetime) -> str:
    """Open a session and return its secret, which is kept nowhere."""
    secret = secrets.token_urlsafe(_SECRET_BYTES)
    session.add(
        BenchSession(
            token_id=token_id,
            sha256=digest_of(secret).hex(),
            person=person,
            created_at=now,
            expires_at=now + LASTS,
        )
    )
    session.flush()
    return secret


def find_session(session: Session, secret: str, now: datetime) -> BenchSession | None:
    """Return the session of a secret, unless it, or its token, is over."""
    if not secret or len(secret) > LONGEST_SECRET:
        return None
    found = session.scalar(
        select(BenchSession).where(BenchSession.sha256 == digest_of(secret).hex())
    )
    if found is None or found.ended_at is not None or found.expires_at <= now:
        return None
    token = found.token
    token_is_over = token.expires_at is not None and token.expires_at <= now
    return None if token_is_over or token.revoked_at is not None else found


def end_session(session: Session, secret: str, now: datetime) -> None:
    """Make a session worthless from now on."""
    found = find_session(session, secret, now)
    if found is not None:
        found.ended_at = now


def form_token(secret: str) -> str:
    """Return what every form of a session carries, and no page elsewhere can know."""
    return hmac.new(secret.encode(), b"a form of the bench page", hashlib.sha256).hexdigest()


def is_form_token(secret: str, sent: str) -> bool:
    """Whether a form was made for this session; compared in constant time."""
    return hmac.compare_digest(form_token(secret).encode(), sent.encode("utf-8", "surrogatepass"))
