"""What a request finds in the app: database, declarations, clock; and who is calling."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import cast

from flask import current_app, g

from sparewell.database.engine import Database
from sparewell.edge.throttle import FailedAttempts
from sparewell.extend.host import Declarations
from sparewell.work import Actor, Work

EXTENSION = "sparewell"


def utc_now() -> datetime:
    """Return the present moment in UTC; the one place that asks the system's clock."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Services:
    """What the app factory puts together and every request uses."""

    database: Database
    declared: Declarations
    clock: Callable[[], datetime] = utc_now
    failed_attempts: FailedAttempts = field(default_factory=FailedAttempts)


@dataclass(frozen=True)
class Caller:
    """Who is calling: a signed-in token, and the person if named."""

    token_id: int
    actor: Actor
    scope: str


def services() -> Services:
    """Return what this app was put together with."""
    return cast("Services", current_app.extensions[EXTENSION])


def caller() -> Caller:
    """Return who signed in for this request."""
    return cast("Caller", g.sparewell_caller)


def work() -> Work:
    """Return the unit of work this request runs in."""
    return cast("Work", g.sparewell_work)
