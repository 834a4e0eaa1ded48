"""The sweep beside the server, and the lock on the file."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select, update

from sparewell.app.factory import create_app
from sparewell.app.sweep import Sweeper, Swept, sweep_once
from sparewell.audit.pieces import audit
from sparewell.database.engine import Database, open_database
from sparewell.database.lockfile import LockHeld, exclusive
from sparewell.database.transaction import Busy, read, write
from sparewell.edge.tables import KeptAnswer
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from sparewell.reservations.tables import Reservation

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture
def promised(migrated: Any, declared: Declarations) -> Iterator[Database]:
    """Give a database in which a job holds two of ten sacs, one of them in its tray."""
    database = open_database(f"sqlite:///{migrated.database_file}")
    token = write(database, lambda session: new_token(session, "bench", "write", NOW))
    client = create_app(database, declared, clock=lambda: NOW).test_client()
    headers = {"Authorization": f"Bearer {token}", "Idempotency-Key": "once"}

    def post(path: str, **body: Any) -> None:
        response = client.post(path, json=body, headers=headers)
        assert response.status_code in {200, 201}, response.json

    post("/v1/drawers", code="A3")
    post("/v1/parts", number="S", kind="sac", name="sac", material="latex", counted_by="piece")
    post("/v1/lots", part="S", drawer="A3", quantity=10)
    post("/v1/pens", called="pen", filling_system="lever", materials=[], readings={})
    post("/v1/jobs", pen="PEN-0001")
    post("/v1/jobs/JOB-0001/reservations", lot=1, quantity=2)
    post("/v1/reservations/1/fetch", quantity=1)
    yield database
    database.close()


def test_a_sweep_ends_holds_whose_time_is_over(promised: Database, declared: Declarations) -> None:
    """What was not fetched lapses at its time and not before, and the audit agrees."""
    due = NOW + timedelta(hours=1)
    write(promised, lambda session: session.execute(update(Reservation).values(expires_at=due)))
    assert sweep_once(promised, declared, due - timedelta(seconds=1)).lapsed_pieces == 0
    assert sweep_once(promised, declared, due) == Swept(lapsed_pieces=1, deleted_answers=0)
    assert sweep_once(promised, declared, due).lapsed_pieces == 0
    with read(promised) as session:
        row = session.scalars(select(Reservation)).one()
        assert (row.promised, row.in_tray, row.lapsed) == (1, 1, 1)
        assert audit(session).faults == ()


def test_a_sweep_deletes_kept_answers_after_a_week(
    promised: Database, declared: Declarations
) -> None:
    """Answers are kept for seven days, for repeats, and then they go."""
    assert sweep_once(promised, declared, NOW + timedelta(days=7)).deleted_answers == 0
    later = NOW + timedelta(days=7, seconds=1)
    assert sweep_once(promised, declared, later).deleted_answers == 7
    with read(promised) as session:
        assert session.scalar(select(func.count(KeptAnswer.id))) == 0


def test_the_sweeper_outlives_an_error(
    promised: Database, declared: Declarations, caplog: pytest.LogCaptureFixture
) -> None:
    """A sweep that fails is logged, and the next one does its work."""
    moments = [NOW, NOW + timedelta(days=8)]

    def clock() -> datetime:
        if not asked:
            asked.append(NOW)
            raise OSError("no clock")
        return moments[-1]

    asked: list[datetime] = []
    ticks = iter([0.0])
    with Sweeper(
        promised,
        declared,
        clock=clock,
        stopwatch=lambda: next(ticks, 8 * 86_400.0),
        interval_seconds=0.02,
    ):
        deadline = time.monotonic() + 20
        left: int | None = 1
        while left and time.monotonic() < deadline:
            time.sleep(0.02)
            with read(promised) as session:
                left = session.scalar(select(func.count(KeptAnswer.id)))
    assert left == 0
    assert "the sweep failed" in caplog.text


def test_a_jump_of_the_clock_deletes_no_kept_answer(
    promised: Database, declared: Declarations
) -> None:
    """Answers are as old as the service has run with them, whatever the clock says meanwhile."""
    moments = iter([NOW, *[NOW + timedelta(days=400)] * 1000])
    passed: list[datetime] = []

    def clock() -> datetime:
        passed.append(next(moments))
        return passed[-1]

    with Sweeper(promised, declared, clock=clock, interval_seconds=0.02):
        deadline = time.monotonic() + 20
        while len(passed) < 5 and time.monotonic() < deadline:
            time.sleep(0.02)
    with read(promised) as session:
        assert session.scalar(select(func.count(KeptAnswer.id))) == 7


@pytest.mark.parametrize("how", ["deleted lock file", "hard link"])
def test_the_lock_is_on_the_database_itself(tmp_path: Path, how: str) -> None:
    """Neither a lock file that is gone nor a second name of the file lets anybody else in."""
    file, other = tmp_path / "workshop.sqlite3", tmp_path / "other.sqlite3"
    file.touch()
    with exclusive(file, "serve"):
        if how == "hard link":
            other.hardlink_to(file)
        else:
            (tmp_path / "workshop.sqlite3.lock").unlink()
            other = file
        with pytest.raises(LockHeld, match="in use by"):
            exclusive(other, "serve").__enter__()
    with exclusive(other, "serve"):
        pass


@pytest.mark.rest
def test_our_lock_leaves_those_of_sqlite_alone(promised: Database) -> None:
    """While ours is held the database is read and written as ever, by others too."""
    assert promised.file is not None
    with exclusive(promised.file, "serve"):
        other = open_database(f"sqlite:///{promised.file}")
        with other.writer.connect() as holder, holder.begin():
            holder.execute(update(KeptAnswer).values(key="other"))
            with pytest.raises(Busy):
                write(promised, lambda session: session.execute(update(KeptAnswer).values(key="x")))
        other.close()


def test_what_is_open_to_others_is_tightened_and_told(migrated: Any) -> None:
    """Whatever the umask, files are for their owner alone; one that was not is said to be now."""
    file = migrated.database_file
    file.chmod(0o644)
    ran = migrated.run("token", "new", "bench", "--scope", "read")
    assert f"{file} was open to others" in ran.err
    assert ran.status == 0
    assert "open to others" not in migrated.run("token", "list").err
    with migrated.serve() as running:
        modes = {path.name: path.stat().st_mode & 0o777 for path in file.parent.iterdir()}
        assert set(modes.values()) == {0o600}
        assert len(modes) >= 3
        assert running.end() == 0


def test_our_own_folder_is_private(workshop: Any) -> None:
    """The folder that Sparewell makes for itself is 0700, and is made so again."""
    home = workshop.folder / "home"
    changes = {"HOME": str(home), "XDG_DATA_HOME": str(home)}
    own = home / "sparewell"
    address = f"sqlite:///{own / 'sparewell.sqlite3'}"
    assert workshop.run("migrate", SPAREWELL_DATABASE_URL=address, **changes).status == 0
    assert own.stat().st_mode & 0o777 == 0o700
    own.chmod(0o755)
    ran = workshop.run("migrate", SPAREWELL_DATABASE_URL=address, **changes)
    assert f"{own} was open to others" in ran.err
    assert own.stat().st_mode & 0o777 == 0o700


def test_the_lock_is_exclusive_and_names_its_holder(tmp_path: Path) -> None:
    """Who comes second hears who is first, by whatever name the file goes; then it is free."""
    file = tmp_path / "workshop.sqlite3"
    file.touch()
    alias = tmp_path / "alias.sqlite3"
    alias.symlink_to(file)
    with exclusive(file, "restore"):
        for name in (file, alias):
            with pytest.raises(LockHeld, match=r"`sparewell restore` \(process \d+\)"):
                exclusive(name, "serve").__enter__()
    with exclusive(alias, "serve"):
        pass


def test_a_lock_without_a_note_is_a_lock_all_the_same(tmp_path: Path) -> None:
    """A holder that wrote nothing, or nonsense, is another process."""
    file = tmp_path / "workshop.sqlite3"
    with exclusive(file, "serve"):
        (tmp_path / "workshop.sqlite3.lock").write_bytes(b"\xff\xfe nonsense")
        with pytest.raises(LockHeld, match="in use by another process"):
            exclusive(file, "serve").__enter__()


def test_a_database_that_is_no_file_is_not_locked() -> None:
    """PostgreSQL has many servers at once."""
    with exclusive(None, "serve"), exclusive(None, "serve"):
        pass
