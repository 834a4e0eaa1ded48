"""`sparewell backup`: one moment of the database in one file, or no file at all."""

from __future__ import annotations

import resource
import shutil
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
import urllib3

from sparewell.database import faults
from support.commands import END_STATUS, environment, partial_files, run, run_and_end_at
from support.moving import P15, P16, ask, held_by, sac
from support.pictures import png

PATIENCE_SECONDS = 30
BACKUPS, SOME = 3, 10


class Writer:
    """A client that takes one lot in after another, and notes each id when it is acknowledged."""

    def __init__(self, url: str, token: str) -> None:
        self._url = f"{url}/v1/lots"
        self._headers = {"Authorization": f"Bearer {token}"}
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._write)
        self.acknowledged: list[int] = []

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Write for as long as the block lasts."""
        self._thread.start()
        try:
            yield
        finally:
            self._stop.set()
            self._thread.join(PATIENCE_SECONDS)

    def wait_for(self, more: int) -> None:
        """Wait until so many more are acknowledged."""
        wanted, end = len(self.acknowledged) + more, time.monotonic() + PATIENCE_SECONDS
        while len(self.acknowledged) < wanted:
            assert time.monotonic() < end, "the writer was held up"
            time.sleep(0.01)

    def _write(self) -> None:
        body = {"part": "SAC-15-STR", "drawer": "A3", "quantity": 1}
        with urllib3.PoolManager() as pool:
            while not self._stop.is_set():
                answer = pool.request(
                    "POST", self._url, json=body, headers=self._headers, retries=False
                )
                if answer.status != 201:
                    return
                self.acknowledged.append(answer.json()["id"])


def lots_in(file: Path) -> list[int]:
    """Return the ids of the lots in an SQLite file."""
    with closing(sqlite3.connect(file)) as database:
        return [row[0] for row in database.execute("SELECT id FROM lot ORDER BY id")]


@pytest.mark.rest
def test_a_backup_under_load_is_one_moment(
    workshop: Any, database_url: str, api: Any, tmp_path: Path
) -> None:
    """While a client writes, a backup holds all acknowledged before it, and nothing in part."""
    first = api.stock()["id"]
    begun = []
    with workshop.serve(SPAREWELL_DATABASE_URL=database_url) as running:
        writer = Writer(running.url, api.token)
        with writer.writing():
            for number in range(BACKUPS):
                writer.wait_for(SOME)
                begun.append(len(writer.acknowledged))
                ran = run(database_url, "backup", tmp_path / f"backup_{number}.sqlite3")
                assert ran.status == 0, ran.said
            writer.wait_for(SOME)
        assert running.end() == 0
    for number, before in enumerate(begun):
        restored = tmp_path / f"restored_{number}.sqlite3"
        backup = tmp_path / f"backup_{number}.sqlite3"
        ran = run(f"sqlite:///{restored}", "restore", backup)
        found = lots_in(restored)
        lots = f"{len(found)} lots, {len(found)} movements, 0 reservations: everything agrees"
        assert (ran.status, lots in ran.said) == (0, True), ran.said
        assert len(found) > before
        assert found == [first, *writer.acknowledged][: len(found)]


def test_a_backup_is_one_file_for_its_owner_alone(
    database_url: str, api: Any, tmp_path: Path
) -> None:
    """From either database it is one SQLite file, readable by its owner only, sound by itself."""
    api.stock()
    folder = tmp_path / "backups for 100% of pens?"
    folder.mkdir()
    backup = folder / "pens #1.sqlite3"
    ran = run(database_url, "backup", backup)
    assert (ran.status, list(folder.iterdir())) == (0, [backup]), ran.said
    assert f"{backup}: {backup.stat().st_size} bytes; 1 lots, 1 movements" in ran.said
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    with closing(sqlite3.connect(f"{backup.as_uri()}?mode=ro&immutable=1", uri=True)) as file:
        assert file.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert file.execute("PRAGMA journal_mode").fetchone() != ("wal",)
        assert file.execute("SELECT version_num FROM alembic_version_core").fetchone()


def test_no_file_is_overwritten_and_no_folder_is_made(database_url: str, tmp_path: Path) -> None:
    """A name that is taken, by a link to nothing or meanwhile, is refused, and so is no folder."""
    taken, link = tmp_path / "taken.sqlite3", tmp_path / "link.sqlite3"
    taken.write_text("mine")
    link.symlink_to(tmp_path / "nothing")
    for name in (taken, link):
        ran = run(database_url, "backup", name)
        assert (ran.status, "is there already" in ran.said) == (1, True)
    ran = run(database_url, "backup", tmp_path / "nowhere" / "backup.sqlite3")
    assert (ran.status, "there is no folder" in ran.said) == (1, True)
    late = tmp_path / "late.sqlite3"
    faults.arm(faults.AFTER_BACKUP_WRITTEN, lambda: late.write_text("mine") and None)
    try:
        assert run(database_url, "backup", late).status == 1
    finally:
        faults.disarm()
    assert (taken.read_text(), late.read_text()) == ("mine", "mine")
    assert partial_files(tmp_path) == []


def test_a_fault_leaves_no_backup(sqlite_template: Path, tmp_path: Path) -> None:
    """What is not sound is named, and not kept as if it were."""
    file = tmp_path / "workshop.db"
    shutil.copy(sqlite_template, file)
    with closing(sqlite3.connect(file)) as database, database:
        database.execute(
            "INSERT INTO need (job_id, kind, quantity, optional, seals_where, given, reads, "
            "together, decided, note) "
            "VALUES (77, 'sac', 1, 0, 'nipple', '{}', '{}', '', 1, '')"
        )
    ran = run(f"sqlite:///{file}", "backup", tmp_path / "backup.sqlite3")
    assert ran.status == 1
    assert "need: row 1 points at a row of job that is not there" in ran.said
    assert list(tmp_path.glob("*.sqlite3")) == []
    assert partial_files(tmp_path) == []


def test_a_full_disk_leaves_nothing_behind(database_url: str, tmp_path: Path) -> None:
    """Where there is no room, a plain sentence and status 3 come, and no part of a file stays."""
    folder = tmp_path / "full"
    folder.mkdir()

    def leave_little_room() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (90_000, 90_000))

    ran = subprocess.run(
        [sys.executable, "-m", "sparewell.cli.main", "backup", folder / "backup.sqlite3"],
        env=environment(database_url),
        preexec_fn=leave_little_room,
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )
    assert ran.returncode == 3
    # Not the last line where coverage is measured: its own file lacks room as well.
    assert "sparewell: the disk is full; nothing was done" in ran.stderr.splitlines()
    assert list(folder.iterdir()) == []


@pytest.mark.rest
def test_a_backup_that_was_cut_short_can_be_made_again(
    database_url: str, api: Any, tmp_path: Path
) -> None:
    """A process that ends before the file has its name leaves no such file and a whole database."""
    api.stock()
    backup = tmp_path / "backup.sqlite3"
    places = ["after_backup_written"]
    if database_url.startswith("postgresql"):
        places.append("after_table_copied")
    for place in places:
        assert run_and_end_at(place, database_url, "backup", backup) == END_STATUS
        assert not backup.exists()
    assert run(database_url, "audit").status == 0
    assert run(database_url, "backup", backup).status == 0
    assert lots_in(backup) == [1]


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_who_is_asked_to_end_clears_up(
    sqlite_template: Path, tmp_path: Path, number: signal.Signals
) -> None:
    """A signal in the middle leaves neither a backup nor a part of one."""
    url, backup = f"sqlite:///{sqlite_template}", tmp_path / "backup.sqlite3"
    place = "after_backup_written"
    assert run_and_end_at(place, url, "backup", backup, by_signal=number) == 128 + number
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", [("backup", "FILE"), ("move", "--to", "postgresql://x@y/z")])
def test_without_tables_there_is_nothing_to_keep(tmp_path: Path, command: tuple[str, ...]) -> None:
    """A database that is not there yet is not made by looking for it."""
    file = tmp_path / "none.sqlite3"
    words = [str(tmp_path / word) if word == "FILE" else word for word in command]
    ran = run(f"sqlite:///{file}", *words)
    assert (ran.status, "first: sparewell migrate" in ran.said) == (1, True)
    assert list(tmp_path.iterdir()) == []


def test_photographs_come_back_byte_for_byte(database_url: str, api: Any, tmp_path: Path) -> None:
    """From either database a backup holds them, a restore brings them back, an audit sees them."""
    pictures = [png(300, 200, grey=grey) for grey in (1, 2)]
    for picture in pictures:
        sent = api.call("POST", f"/v1/pens/{api.pen()}/photographs", raw=picture)
        assert sent.status == 201, sent.text
    backup, restored = tmp_path / "backup.sqlite3", tmp_path / "restored.sqlite3"
    assert run(database_url, "backup", backup).status == 0
    assert run(f"sqlite:///{restored}", "restore", backup).status == 0
    with closing(sqlite3.connect(restored)) as file:
        rows = file.execute("SELECT data FROM photograph_image ORDER BY photograph_id")
        assert [data for (data,) in rows] == pictures
        assert run(f"sqlite:///{restored}", "audit").status == 0
        file.execute("UPDATE photograph_image SET data = x'00' WHERE photograph_id = 2")
        file.commit()
    audited = run(f"sqlite:///{restored}", "audit")
    assert (audited.status, "photograph 2: its picture is not the one" in audited.said) == (1, True)


@pytest.mark.differs
def test_promises_that_moved_are_copied_in_their_order(
    database_url: str, api: Any, tmp_path: Path
) -> None:
    """What moved aside names a promise that came after it; a backup and its restore take both."""
    sac(api, 15)
    held_by(api, api.job(**P16))
    sac(api, 16)
    assert ask(api, api.job(**P15)).body["moved"]
    backup = tmp_path / "backup.sqlite3"
    ran = run(database_url, "backup", backup)
    assert ran.status == 0, ran.said
    ran = run(f"sqlite:///{tmp_path / 'restored.sqlite3'}", "restore", backup)
    assert (ran.status, "3 reservations: everything agrees" in ran.said) == (0, True), ran.said
