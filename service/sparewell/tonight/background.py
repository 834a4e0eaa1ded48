"""Evenings that take long: worked out beside the requests, by one thread of this process."""

from __future__ import annotations

import logging
import threading
from typing import Any

from sparewell.database.transaction import Unavailable, read, write
from sparewell.edge.context import Services
from sparewell.errors import Refusal
from sparewell.plans.pooling import Terms
from sparewell.plans.wanting import WaitsFor
from sparewell.reservations.lapsing import lapse_expired
from sparewell.tonight import keeping
from sparewell.tonight.evening import ShownEvening, evening
from sparewell.tonight.ordering import order_for
from sparewell.tonight.promises import Promises
from sparewell.tonight.schemas import TonightSchema
from sparewell.work import Actor, Work

LONG_SECONDS = 60.0

_log = logging.getLogger(__name__)
_one_at_a_time = threading.Lock()


def begin(services: Services, actor: Actor, row_id: int, terms: Terms, *, orders: bool) -> None:
    """Begin to work out an evening; it ends with the process, and whoever looks is told so."""
    arguments = (services, actor, row_id, terms, orders)
    threading.Thread(target=_work_out, args=arguments, daemon=True, name="evening").start()


def _work_out(
    services: Services,
    actor: Actor,
    row_id: int,
    terms: Terms,
    orders: bool,  # noqa: FBT001 - a thread's
) -> None:
    def in_turn(session: Any) -> Work:
        return Work(session, services.clock(), actor, services.declared)

    try:
        with _one_at_a_time:
            write(services.database, lambda session: lapse_expired(in_turn(session)))
            with read(services.database) as session:
                reading = in_turn(session)
                found = evening(reading, terms, seconds=LONG_SECONDS)
                order = order_for(reading, found.waiting[WaitsFor.PART]) if orders else None
                shown = TonightSchema().dump(ShownEvening(row_id, found, order))
                promises = Promises.of(reading, found).written()
        write(
            services.database,
            lambda session: keeping.complete(in_turn(session), row_id, shown, promises),
        )
    except Exception as error:  # noqa: BLE001 - whatever it was, whoever looks is told
        _log.exception("evening %s could not be worked out", row_id)
        why = error.detail if isinstance(error, Refusal) else "something is broken: see the log"
        if isinstance(error, Unavailable):
            why = "the database was busy: ask again"
        write(services.database, lambda session: keeping.fail(in_turn(session), row_id, why))
