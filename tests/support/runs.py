"""Whole runs against a server: a race of client processes, and load on a server that is killed."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sparewell.audit.pieces import audit
from sparewell.database.engine import open_database
from sparewell.database.transaction import read, write
from sparewell.edge.tokens import new_token
from support.choices import Workshop
from support.history import Event, Final, History, summary
from support.load import furnish, race, read_all, repeat_all, under_load
from support.oracles import check
from support.server_process import ServerProcess, audit_verdict, served

HOLD_SECONDS = 0.9
MOST_REPEATED = 200
READY_SECONDS = 15.0
MOST_BETWEEN = 80
LONGEST_ANSWER_SECONDS = 0.05


@dataclass(frozen=True)
class Place:
    """Where a run happens: the database, a folder for its files, and what is served with it."""

    database_url: str
    folder: Path
    workers: int = 1
    bug: str | None = None

    @property
    def name(self) -> str:
        """The kind of database, and how it is served."""
        kind = self.database_url.partition(":")[0].partition("+")[0]
        return f"{kind}, {self.workers} workers" if self.workers > 1 else kind

    def token(self) -> str:
        """Make a token that may change things."""
        database = open_database(self.database_url)
        now = datetime.now(UTC)
        text = write(database, lambda session: new_token(session, "the race", "write", now))
        database.close()
        return text

    def faults(self) -> list[str]:
        """Recompute every balance from the ledger, in this process."""
        database = open_database(self.database_url)
        with read(database) as session:
            found = audit(session).faults
        database.close()
        return list(found)

    def deadlocks(self) -> int:
        """Return how often PostgreSQL had to undo a transaction that waited in a circle."""
        database = open_database(self.database_url)
        if database.is_sqlite:
            return 0
        with database.engine.connect() as connection:
            count = connection.exec_driver_sql(
                "SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()"
            ).scalar_one()
        database.close()
        return int(count)

    def judge(self, history: History, final: Final, *before: str) -> None:
        """Let every oracle look at a run, and the service's own audit."""
        audits = [*before, *self.faults(), *audit_verdict(self.database_url)]
        check(history, final, audits_agree=audits)


def run_race(place: Place, seed: int, operations: int, *, clients: int = 8) -> str:
    """Let client processes race for the last pieces, and judge; return the run in one line."""
    token = place.token()
    with served(place.database_url, place.folder, workers=place.workers, bug=place.bug) as server:
        workshop, furnished = furnish(server.address, token, HOLD_SECONDS)
        events = race(workshop, seed, operations, place.folder, clients=clients)
        final = read_all(workshop)
        lapsed = sum(row["lapsed"] for row in final.reservations.values())
        history = History([*furnished, *events], HOLD_SECONDS)
        place.judge(history, final)
    assert place.deadlocks() == 0, f"seed {seed}: locks were not taken in one order"
    return summary(place.name, seed, History(events, HOLD_SECONDS), f"{lapsed} pieces lapsed")


def kill_and_start(server: ServerProcess, _dice: random.Random) -> float:
    """Kill the server, start it again, and return how long that took."""
    server.end()
    return server.start()


def kill_a_worker(server: ServerProcess, dice: random.Random) -> float:
    """Kill one of several workers, and wait until there are as many again."""
    began, before = time.monotonic(), server.workers()
    victim = dice.choice(sorted(before))
    os.kill(victim, signal.SIGKILL)
    while len(server.workers() - {victim}) < len(before):
        assert time.monotonic() < began + READY_SECONDS, f"worker {victim} is not replaced"
        time.sleep(LONGEST_ANSWER_SECONDS)
    return time.monotonic() - began


def run_kills(
    place: Place,
    seed: int,
    kills: int,
    kill: Callable[[ServerProcess, random.Random], float] = kill_and_start,
) -> str:
    """Kill the server under load, so often, and judge; return the run in one line."""
    token, dice = place.token(), random.Random(seed)  # noqa: S311 - a seed to repeat it with
    starts: list[float] = []
    faults: list[str] = []

    def kill_again_and_again(wait_for: Callable[[int], None]) -> None:
        for number in range(kills):
            wait_for(dice.randint(1, MOST_BETWEEN))
            time.sleep(dice.uniform(0, LONGEST_ANSWER_SECONDS))
            starts.append(kill(server, dice))
            faults.extend(place.faults())
            if number % 10 == 0:
                faults.extend(audit_verdict(place.database_url))
        wait_for(MOST_BETWEEN)

    with served(place.database_url, place.folder, workers=place.workers, bug=place.bug) as server:
        workshop, furnished = furnish(server.address, token, HOLD_SECONDS)
        events = under_load(workshop, seed, kill_again_and_again)
        history, final = _afterwards(workshop, furnished, events)
        place.judge(history, final, *faults)
    assert any(event.tries > 1 for event in events), f"seed {seed}: nobody noticed the kills"
    assert max(starts) < READY_SECONDS, f"seed {seed}: ready after {starts}"
    readiness = f"{kills} kills, ready again within {max(starts):.2f} s"
    return summary(place.name, seed, History(events, HOLD_SECONDS), readiness)


def run_database_crashes(place: Place, seed: int, crash: Callable[[], None], crashes: int) -> str:
    """Crash the database under a server that goes on, and judge; return the run in one line."""
    token, dice = place.token(), random.Random(seed)  # noqa: S311 - a seed to repeat it with

    def crash_again_and_again(wait_for: Callable[[int], None]) -> None:
        for _ in range(crashes):
            # The last crash's refusals count as answers too, so wait for more than those.
            wait_for(dice.randint(MOST_BETWEEN, 4 * MOST_BETWEEN))
            time.sleep(dice.uniform(0, LONGEST_ANSWER_SECONDS))
            crash()
        wait_for(MOST_BETWEEN)

    with served(place.database_url, place.folder, workers=place.workers) as server:
        workshop, furnished = furnish(server.address, token, HOLD_SECONDS)
        events = under_load(workshop, seed, crash_again_and_again)
        history, final = _afterwards(workshop, furnished, events)
        place.judge(history, final)
    unavailable = sum(event.status == 503 for event in events)
    assert unavailable, f"seed {seed}: nobody noticed the crashes"
    return summary(place.name, seed, History(events, HOLD_SECONDS), f"{crashes} crashes")


def _afterwards(
    workshop: Workshop, furnished: list[Event], events: list[Event]
) -> tuple[History, Final]:
    """Repeat the last requests under their keys, and read how things stand."""
    again = repeat_all(workshop, events, MOST_REPEATED)
    final = read_all(workshop)
    return History([*furnished, *events, *again], HOLD_SECONDS, crashes=True), final
