"""Askers in processes of their own, after the last pieces of one lot; and a pattern that loses."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from datetime import UTC, datetime
from multiprocessing.synchronize import Barrier
from typing import Any

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from sparewell.app.factory import core_declarations
from sparewell.database import transaction
from sparewell.database.engine import Database, open_database
from sparewell.errors import Conflict
from sparewell.extend.work import Actor, Work
from sparewell.repairs.jobs import find_job
from sparewell.repairs.reserving import reserve_lot
from sparewell.stock import reservations
from sparewell.stock.audit import audit
from sparewell.stock.tables import Lot, Reservation

PATIENCE_SECONDS = 120


def race(url: str, lot_id: int, jobs: list[str], *, naive: bool = False) -> int:
    """Let one process per job reserve single pieces until refused; return how many were granted."""
    context = multiprocessing.get_context("spawn")
    barrier = context.Barrier(len(jobs))
    granted = context.Queue()
    askers = [
        context.Process(target=ask, args=(url, lot_id, job, naive, barrier, granted))
        for job in jobs
    ]
    for asker in askers:
        asker.start()
    counts = [granted.get(timeout=PATIENCE_SECONDS) for _ in askers]
    for asker in askers:
        asker.join(timeout=PATIENCE_SECONDS)
        assert asker.exitcode == 0
    return sum(counts)


def ask(url: str, lot_id: int, job: str, naive: bool, barrier: Barrier, granted: Any) -> None:  # noqa: FBT001
    """Reserve one piece after another until none is left."""
    database = open_database(url)
    declared = core_declarations()
    write = patch_naive(database, lot_id) if naive else transaction.write

    def reserve(session: Session) -> None:
        work = Work(session, datetime.now(UTC), Actor(f"asker of {job}"), declared)
        reserve_lot(work, find_job(session, job), lot_id, 1)

    barrier.wait(PATIENCE_SECONDS)
    count = 0
    while True:
        try:
            write(database, reserve)
        except Conflict:
            break
        except transaction.Busy:
            continue
        count += 1
    granted.put(count)
    database.close()


def patch_naive(database: Database, lot_id: int) -> Callable[..., Any]:
    """Patch the well-known mistake in: look, compare here, and write the computed value."""
    seen: dict[str, int] = {}

    def look_first(_database: Database, work: Callable[[Session], Any]) -> Any:
        with transaction.read(database) as session:
            lot = session.get_one(Lot, lot_id)
            seen.update(in_hand=lot.in_hand, promised=lot.promised)
        return transaction.write(database, work)

    def compare_here(session: Session, lot_id: int, *, promised: int = 0, **_: int) -> bool:
        computed = seen["promised"] + promised
        if computed > seen["in_hand"]:
            return False
        values = {"promised": computed, "has_available": computed < seen["in_hand"]}
        session.execute(update(Lot).where(Lot.id == lot_id).values(values))
        return True

    reservations.change_balance = compare_here  # type: ignore[assignment]
    return look_first


def check_nothing_promised_twice(database: Database, lot_id: int, stock: int, granted: int) -> None:
    """Assert that just the stock was granted, and that the ledger agrees."""
    with transaction.read(database) as session:
        promised = session.scalar(
            select(func.sum(Reservation.promised)).where(Reservation.lot_id == lot_id)
        )
        faults = audit(session).faults
    assert granted == stock, f"{granted} granted of {stock}"
    assert promised == stock
    assert not faults
