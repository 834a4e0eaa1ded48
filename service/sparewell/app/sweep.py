"""The sweep beside the server: holds whose time is over lapse, and old kept answers go."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import TracebackType
from typing import Self

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.edge.context import utc_now
from sparewell.edge.tables import KeptAnswer
from sparewell.extend.host import Declarations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.work import Actor, Work

# The clock may jump, and with it the age of every kept answer. So answers are as old as the newest
# of them was at the start, and this process has run since: never older than the clock says.
SWEEP_SECONDS = 30.0
ANSWERS_KEPT = timedelta(days=7)
MOST_DELETED_AT_ONCE = 5000
_ACTOR = Actor("sweep")
_JOIN_SECONDS = 10.0

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Swept:
    """What one sweep did: pieces whose hold lapsed, and kept answers deleted."""

    lapsed_pieces: int
    deleted_answers: int


def sweep_once(
    database: Database,
    declared: Declarations,
    now: datetime,
    answers_now: datetime | None = None,
) -> Swept:
    """Lapse what is over and delete what is old, in one unit of work.

    `answers_now` is the moment by which kept answers are old, where that is another one.
    """

    def work(session: Session) -> Swept:
        lapsed_pieces = lapse_expired(Work(session, now, _ACTOR, declared))
        return Swept(
            lapsed_pieces, _delete_old_answers(session, (answers_now or now) - ANSWERS_KEPT)
        )

    return write(database, work)


def _delete_old_answers(session: Session, before: datetime) -> int:
    """Delete the oldest, so many at once that writers hardly wait; the next sweep goes on."""
    oldest = (
        select(KeptAnswer.id)
        .where(KeptAnswer.created_at < before)
        .order_by(KeptAnswer.created_at)
        .limit(MOST_DELETED_AT_ONCE)
    )
    deleted = session.scalars(
        delete(KeptAnswer).where(KeptAnswer.id.in_(oldest)).returning(KeptAnswer.id),
        execution_options={"synchronize_session": False},
    )
    return len(deleted.all())


class Sweeper:
    """A thread that sweeps at once and then at intervals, for as long as the `with` block lasts."""

    def __init__(
        self,
        database: Database,
        declared: Declarations,
        *,
        clock: Callable[[], datetime] = utc_now,
        stopwatch: Callable[[], float] = time.monotonic,
        interval_seconds: float = SWEEP_SECONDS,
    ) -> None:
        self._database = database
        self._declared = declared
        self._clock = clock
        self._stopwatch = stopwatch
        self._began: tuple[datetime, float] | None = None
        self._interval_seconds = interval_seconds
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="sparewell-sweep", daemon=True)

    def __enter__(self) -> Self:
        """Start sweeping."""
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        """Stop; a sweep that is under way is finished first."""
        self._stop.set()
        self._thread.join(_JOIN_SECONDS)

    def _run(self) -> None:
        while True:
            try:
                swept = self._sweep(self._clock())
            except Exception:  # noqa: BLE001 - whatever it was, the next sweep may do better
                _log.exception("the sweep failed; the next one is in %s s", self._interval_seconds)
            else:
                if swept.lapsed_pieces or swept.deleted_answers:
                    _log.info("%s", swept)
            if self._stop.wait(self._interval_seconds):
                return

    def _sweep(self, now: datetime) -> Swept:
        if self._began is None:
            with read(self._database) as session:
                newest = session.scalar(select(func.max(KeptAnswer.created_at)))
            self._began = min(now, newest or now), self._stopwatch()
        base, started = self._began
        ran = timedelta(seconds=self._stopwatch() - started)
        return sweep_once(self._database, self._declared, now, min(now, base + ran))
