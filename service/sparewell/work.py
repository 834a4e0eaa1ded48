"""What every operation is handed: the session, the moment, who acts, and what plugins declare.

What takes long is worked out in a unit of work that only reads, and used in one that writes. Two
things come up between an operation and whoever runs it, and are no refusals: something is
:class:`Due` before anything can be worked out, or what was worked out is :class:`Stale`.
"""

from __future__ import annotations

from collections.abc import Callable
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
    """One unit of work. Operations add to its session; whoever opened it commits.

    `is_last` says that what is stale now will not be worked out once more.
    """

    session: Session
    now: datetime
    actor: Actor
    declared: Declarations
    is_last: bool = True


class Due(Exception):  # noqa: N818 - an expected state
    """Something has to be written first that nobody asks for, such as the end of a hold."""

    def __init__(self, act: Callable[[Work], object]) -> None:
        super().__init__()
        self.act = act


class Stale(Exception):  # noqa: N818 - an expected state
    """What an answer was worked out from has changed since; nothing was done."""
