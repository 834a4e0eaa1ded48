"""Evenings kept for a day, so that what was shown can be promised, and long work looked at."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from sqlalchemy import delete

from sparewell.errors import Conflict, NotFound
from sparewell.tonight.tables import EveningState, KeptEvening
from sparewell.work import Work

KEPT_FOR = timedelta(days=1)
# Whoever works on one needs a minute; after so long its process must have ended.
GIVEN_UP_AFTER = timedelta(minutes=10)


def keep(work: Work, state: EveningState) -> KeptEvening:
    """Keep a new evening, and forget those that are older than a day."""
    old = KeptEvening.made_at < work.now - KEPT_FOR
    work.session.execute(delete(KeptEvening).where(old))
    row = KeptEvening(
        state=state,
        made_at=work.now,
        actor=work.actor.token,
        person=work.actor.person,
        shown={},
        promises={},
    )
    work.session.add(row)
    work.session.flush()
    return row


def complete(work: Work, row_id: int, shown: dict[str, Any], promises: dict[str, Any]) -> None:
    """Keep what an evening has become."""
    row = work.session.get(KeptEvening, row_id)
    if row is not None:
        row.state, row.shown, row.promises = EveningState.READY, shown, promises


def fail(work: Work, row_id: int, why: str) -> None:
    """Keep that an evening could not be worked out."""
    row = work.session.get(KeptEvening, row_id)
    if row is not None:
        row.state, row.failed = EveningState.FAILED, why[:2000]


def find(work: Work, row_id: int) -> KeptEvening:
    """Return a kept evening. Raises :class:`NotFound`."""
    row = work.session.get(KeptEvening, row_id)
    if row is None or row.made_at < work.now - KEPT_FOR:
        raise NotFound(f"there is no plan {row_id}, or it is older than a day: ask for a new one")
    return row


def state_of(work: Work, row: KeptEvening) -> tuple[EveningState, str]:
    """Return how far an evening has come, and why not further."""
    if row.state == EveningState.WORKING and row.made_at < work.now - GIVEN_UP_AFTER:
        return EveningState.FAILED, "the server ended while it was worked on: ask again"
    return EveningState(row.state), row.failed


def ready(work: Work, row_id: int) -> KeptEvening:
    """Return a kept evening that can be promised. Raises :class:`NotFound`, :class:`Conflict`."""
    row = find(work, row_id)
    state, why = state_of(work, row)
    if state is not EveningState.READY:
        raise Conflict(f"plan {row_id} is not ready: it is {state}{f'; {why}' if why else ''}")
    return row
