"""Evenings that take long: worked out beside the requests, one after another in each process."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from sparewell.database.engine import Database
from sparewell.database.transaction import Unavailable, read, write
from sparewell.errors import Refusal
from sparewell.extend.host import Declarations
from sparewell.plans.pooling import Terms
from sparewell.reservations.lapsing import lapse_expired
from sparewell.tonight import keeping
from sparewell.tonight.ordering import ShownEvening, evening_with_order
from sparewell.tonight.promises import Promises
from sparewell.work import Actor, Work

LONG_SECONDS = 60.0

_log = logging.getLogger(__name__)
_one_at_a_time = threading.Lock()


@dataclass(frozen=True)
class LongEvening:
    """An evening that somebody asked for, the row that it is kept in, and how it is shown."""

    database: Database
    declared: Declarations
    clock: Callable[[], datetime]
    actor: Actor
    row_id: int
    terms: Terms
    with_orders: bool
    show: Callable[[ShownEvening], dict[str, Any]]

    def begin(self) -> None:
        """Begin; it ends with the process, and whoever looks then is told so."""
        threading.Thread(target=self._run, daemon=True, name="evening").start()

    def _run(self) -> None:
        try:
            with _one_at_a_time:
                self._work_out()
        except Exception as error:  # noqa: BLE001 - whatever it was, whoever looks is told
            _log.exception("evening %s could not be worked out", self.row_id)
            why = error.detail if isinstance(error, Refusal) else "something is broken: see the log"
            if isinstance(error, Unavailable):
                why = "the database was busy: ask again"
            self._write(lambda work: keeping.fail(work, self.row_id, why))

    def _work_out(self) -> None:
        self._write(lapse_expired)
        with read(self.database) as session:
            work = self._work(session)
            found, order = evening_with_order(
                work, self.terms, with_order=self.with_orders, seconds=LONG_SECONDS
            )
            shown = self.show(ShownEvening(self.row_id, found, order))
            promises = Promises.of(work, found).written()
        self._write(lambda work: keeping.complete(work, self.row_id, shown, promises))

    def _write(self, act: Callable[[Work], object]) -> None:
        write(self.database, lambda session: act(self._work(session)))

    def _work(self, session: Session) -> Work:
        return Work(session, self.clock(), self.actor, self.declared)
