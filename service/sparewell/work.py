"""What every operation is handed: the session, the moment, who acts, and what plugins declare."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from sparewell.extend.host import Declarations


@dataclass(frozen=True)
class Actor:
    """Who acts: the token's name, and the person at the bench if one was given."""

    token: str
    person: str | None = None


@dataclass(frozen=True)
class Work:
    """One unit of work. Operations add to its session; whoever opened it commits."""

    session: Session
    now: datetime
    actor: Actor
    declared: Declarations
