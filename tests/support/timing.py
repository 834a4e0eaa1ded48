"""Timing for benchmarks: a figure is shown beside a floor of the same run; nothing is judged."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

from sqlalchemy import event
from sqlalchemy.orm import Session

from sparewell.database.engine import Database

ROUNDS = 100


def median_seconds(action: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the median time of an action that was done once before."""
    action()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def beside(
    action: Callable[[], object],
    floor: Callable[[], object],
    rounds: int = ROUNDS,
    choose: Callable[[list[float]], float] = min,
) -> tuple[float, float]:
    """Return the times of two actions done in turns: of each the least, which others' load spares.

    Where it is the ordinary time that counts, choose the median.
    """
    times: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds + 1):
        for one, taken in zip((action, floor), times, strict=True):
            start = time.perf_counter()
            one()
            taken.append(time.perf_counter() - start)
    return choose(times[0][1:]), choose(times[1][1:])


def show(what: str, seconds: float, floor: float, of_what: str = "the floor") -> None:
    """Print one figure beside its floor."""
    print(  # noqa: T201 - the figures are the point
        f"\n{what}: {seconds * 1000:.2f} ms, {seconds / floor:.2f} x {of_what} "
        f"of {floor * 1000:.2f} ms"
    )


def sent_by(database: Database, action: Callable[[], object]) -> tuple[str, Any]:
    """Return the last statement that an action sends, with its values."""
    sent: list[tuple[str, Any]] = []

    def note(*call: Any) -> None:
        sent.append((call[2], call[3]))

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        action()
    finally:
        event.remove(database.engine, "before_cursor_execute", note)
    return sent[-1]


def bare(session: Session, statement: str, values: Any) -> Callable[[], object]:
    """Return what runs a statement through the driver alone, in the session's transaction."""
    driver: Any = session.connection().connection.driver_connection
    return lambda: driver.execute(statement, values).fetchall()
