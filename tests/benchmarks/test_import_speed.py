"""How fast a notebook comes in, as a ratio to a bare insertion of the same rows; nothing is judged.

Run with `pytest -m benchmark -s tests/benchmarks`. In CI there are few rows, at a desk a dealer's
hundred thousand.
"""

from __future__ import annotations

import resource
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from flask import Flask
from sqlalchemy import insert, select

from conftest import IN_CI
from sparewell.database import transaction
from sparewell.database.engine import Database
from sparewell.ledger.tables import Movement
from sparewell.lots.tables import Lot
from support.api import Api

pytestmark = pytest.mark.benchmark
ROWS = 5_000 if IN_CI else 100_000
PARTS = 500
DRAWERS = 200


def table() -> bytes:
    """Return lots as a beginner keeps them, every one a little different."""
    lines = ["Part no.;Drawer;Qty;OD (mm);Bought;Price;Material;Notes"]
    lines += [
        f"P{number % PARTS};D{number % DRAWERS};{number % 30 + 1};5,{number % 900 + 100:03d} mm;"
        f"{number % 28 + 1}.3.2026;{number % 90},50;latex;bag {number}"
        for number in range(ROWS)
    ]
    return "\n".join(lines).encode()


def seconds_for(action: object, *arguments: object, **more: object) -> float:
    """Return how long an action takes."""
    start = time.perf_counter()
    action(*arguments, **more)  # type: ignore[operator]
    return time.perf_counter() - start


def peak_megabytes() -> int:
    """Return how much memory this process has ever had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


@contextmanager
def lock_times(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[float]]:
    """Note how long each write transaction holds its locks."""
    held: list[float] = []
    honest = transaction._once

    def timed(database: Database, work: object, patience: float) -> object:
        start = time.perf_counter()
        try:
            return honest(database, work, patience)  # type: ignore[arg-type]
        finally:
            held.append(time.perf_counter() - start)

    with monkeypatch.context() as patch:
        patch.setattr(transaction, "_once", timed)
        yield held


def bare_insert(database: Database) -> None:
    """Insert as many lots and movements as there are, over again, and take them back."""
    with database.engine.connect() as connection:
        lots = [dict(row) for row in connection.execute(select(Lot.__table__)).mappings()]
        lines = [dict(row) for row in connection.execute(select(Movement.__table__)).mappings()]
    highest = max(lot["id"] for lot in lots)
    for lot in lots:
        lot["id"] += highest
    for line in lines:
        line.pop("id")
        line["lot_id"] += highest
    start = time.perf_counter()
    with database.writer.connect() as connection, connection.begin() as attempt:
        connection.execute(insert(Lot.__table__), lots)  # type: ignore[arg-type]
        connection.execute(insert(Movement.__table__), lines)  # type: ignore[arg-type]
        attempt.rollback()
    bare_insert.seconds = time.perf_counter() - start  # type: ignore[attr-defined]


@pytest.mark.timeout(900)
def test_lots_of_a_dealer(
    api: Api, app: Flask, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Checking and applying, and how long others wait, against the same rows inserted barely."""
    assert app is api.app
    parts = "number,kind\n" + "\n".join(f"P{number},sac" for number in range(PARTS))
    sent = api.call("POST", "/v1/imports?of=parts&name=parts", raw=parts.encode())
    assert api.post(f"/v1/imports/{sent.body['id']}/apply").status == 200
    content = table()
    query = "of=lots&name=cabinet&check=later"
    upload = seconds_for(api.call, "POST", f"/v1/imports?{query}", raw=content)
    path = "/v1/imports/2"
    before = peak_megabytes()
    check = seconds_for(api.post, f"{path}/check", {"create_drawers": True})
    assert api.get(path).body["state"] == "checked"
    with lock_times(monkeypatch) as held:
        apply = seconds_for(api.post, f"{path}/apply")
    done = api.get(path).body
    assert (done["state"], done["created"]["lots"]) == ("applied", ROWS)
    more = peak_megabytes() - before
    bare_insert(database)
    floor = bare_insert.seconds  # type: ignore[attr-defined]
    print(  # noqa: T201 - the figures are the point
        f"\n{ROWS} lots ({database.url.get_backend_name()}): sent {upload:.1f} s, checked "
        f"{check:.1f} s, applied {apply:.1f} s, of which {max(held):.1f} s with the lock; "
        f"together {(upload + check + apply) / floor:.1f} x, and the lock {max(held) / floor:.1f} "
        f"x the floor of {floor:.1f} s; {more} MB more than before"
    )
