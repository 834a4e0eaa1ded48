"""`sparewell restore`: a backup in place of the database, or the database as it was."""

from __future__ import annotations

import errno
import os
import random
import shutil
import sqlite3
import stat
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from sparewell.app.factory import create_app
from sparewell.database.backup import BackupError, refuse_changed
from sparewell.database.engine import open_database
from sparewell.database.transaction import write
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations
from support.api import Api
from support.commands import END_STATUS, partial_files, run, run_and_end_at
from support.postgres import Cluster

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
SEED = 20261125
FLIPS = 300


class Place:
    """A folder with a database in it, of one lot fewer than its backup."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.file = folder / "workshop.sqlite3"
        self.backup = folder / "backup.sqlite3"
        self.url = f"sqlite:///{self.file}"

    def lots(self) -> int:
        """Count the lots; the database has to be sound."""
        ran = run(self.url, "audit")
        assert ran.status == 0, ran.said
        return int(ran.said.split()[0])

    def kept(self) -> list[Path]:
        """Return the databases that were kept."""
        return sorted(self.folder.glob("workshop.sqlite3.before-restore-*"))


@pytest.fixture(scope="module")
def made(
    sqlite_template: Path, declared: Declarations, tmp_path_factory: pytest.TempPathFactory
) -> Place:
    """Make a database of one lot, and a backup with two."""
    place = Place(tmp_path_factory.mktemp("made"))
    shutil.copy(sqlite_template, place.file)
    add_lot(place.file, declared)
    two = place.folder / "two.sqlite3"
    shutil.copy(place.file, two)
    add_lot(two, declared)
    assert run(f"sqlite:///{two}", "backup", place.backup).status == 0
    return place


def add_lot(file: Path, declared: Declarations) -> None:
    """Take ten sacs in."""
    database = open_database(f"sqlite:///{file}")
    token = write(database, lambda session: new_token(session, file.name, "admin", NOW))
    Api(create_app(database, declared), token).stock()
    database.close()


@pytest.fixture
def place(made: Place, tmp_path: Path) -> Place:
    """Give a copy that may be spoiled."""
    copy = Place(tmp_path)
    for source, target in ((made.file, copy.file), (made.backup, copy.backup)):
        shutil.copy(source, target)
        target.chmod(0o600)
    return copy


def test_the_former_database_is_kept(place: Place) -> None:
    """The backup's rows are there, the former database beside them, for their owner alone."""
    assert place.lots() == 1
    place.file.chmod(0o640)
    before = place.backup.read_bytes()
    ran = run(place.url, "restore", place.backup)
    assert ran.status == 0, ran.said
    assert "2 lots, 2 movements, 0 reservations: everything agrees" in ran.said
    (kept,) = place.kept()
    assert str(kept) in ran.said
    assert place.lots() == 2
    assert stat.S_IMODE(place.file.stat().st_mode) == 0o600
    refused = run(place.url, "restore", kept)
    assert (refused.status, "carries no checksum" in refused.said) == (1, True)
    assert place.backup.read_bytes() == before
    assert run(place.url, "restore", "--unsealed", kept).status == 0
    assert (place.lots(), len(place.kept())) == (1, 2)
    assert partial_files(place.folder) == []


def test_without_links_it_is_the_same(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """On the file systems of sticks, which know no links, both commands do what they do."""

    def refuse(*_: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    backup = place.folder / "stick.sqlite3"
    assert run(place.url, "backup", backup).status == 0
    again = run(place.url, "backup", backup)
    assert (again.status, "is there already" in again.said) == (1, True)
    assert run(place.url, "restore", place.backup).status == 0
    assert (place.lots(), len(place.kept())) == (2, 1)
    assert run(place.url, "restore", backup).status == 0
    assert place.lots() == 1


def test_a_running_server_keeps_its_database(place: Place, workshop: Any) -> None:
    """While a server runs a restore is refused, and names it."""
    with workshop.serve(SPAREWELL_DATABASE_URL=place.url) as running:
        ran = run(place.url, "restore", place.backup)
        assert ran.status == 1
        assert f"`sparewell serve` (process {running.process.pid})" in ran.said
        assert running.end() == 0
    assert (place.lots(), place.kept()) == (1, [])


def test_another_program_keeps_its_database(place: Place) -> None:
    """While anything else has the file open a restore is refused, and all stays as it was."""
    with closing(sqlite3.connect(place.file)) as other:
        assert other.execute("SELECT count(*) FROM lot").fetchone() == (1,)
        ran = run(place.url, "restore", place.backup)
        assert (ran.status, "open in another program" in ran.said) == (1, True)
    assert (place.lots(), place.kept()) == (1, [])


def test_no_flipped_bit_passes(place: Place) -> None:
    """Whichever bit of a backup's content is another, the backup is known to be damaged."""
    dice, whole, missed = random.Random(SEED), place.backup.read_bytes(), []  # noqa: S311 - to repeat the run
    assert is_accepted(place.backup)
    for _ in range(FLIPS):
        at, bit = dice.randrange(100, len(whole)), 1 << dice.randrange(8)
        spoiled = bytearray(whole)
        spoiled[at] ^= bit
        place.backup.write_bytes(spoiled)
        if is_accepted(place.backup):
            missed.append((at, bit))
    assert missed == [], f"seed {SEED}"


def is_accepted(file: Path) -> bool:
    """Whether a file is as it was written."""
    try:
        refuse_changed(file, file)
    except BackupError:
        return False
    return True


def change(file: Path, *statements: str) -> None:
    """Write to a backup behind its back."""
    with closing(sqlite3.connect(file)) as database, database:
        for statement in ("PRAGMA application_id=0", *statements):
            database.execute(statement)


def cut(file: Path, part: float) -> None:
    """Keep only the first part of a file."""
    file.write_bytes(file.read_bytes()[: int(file.stat().st_size * part)])


def spoil_page(file: Path) -> None:
    """Overwrite a page in the middle of a file that carries no checksum."""
    change(file)
    content = bytearray(file.read_bytes())
    content[4096 * 3 : 4096 * 4] = random.Random(SEED).randbytes(4096)  # noqa: S311
    file.write_bytes(content)


def replace_by_other(file: Path) -> None:
    """Put an SQLite database of another program there."""
    file.unlink()
    change(file, "CREATE TABLE songs (title TEXT)")


SPOILED: dict[str, tuple[Callable[[Path], Any], str]] = {
    "cut": (lambda file: cut(file, 0.6), "damaged"),
    "cut without a checksum": (lambda file: (change(file), cut(file, 0.6)), "damaged"),
    "empty": (lambda file: cut(file, 0), "is no SQLite database"),
    "text": (lambda file: file.write_text("pens\n" * 99), "is no SQLite database"),
    "a page": (spoil_page, "damaged"),
    "written to": (
        lambda file: change(file, "UPDATE lot SET note = 'x'", "PRAGMA application_id=1399873906"),
        "written to since",
    ),
    "another program's": (replace_by_other, "not one of Sparewell"),
    "ledger": (
        lambda file: change(file, "UPDATE lot SET in_hand = 11 WHERE id = 1"),
        "lot 1: 11 in hand, and the ledger adds up to 10",
    ),
    "dangling": (
        lambda file: change(file, "UPDATE lot SET place_id = 99 WHERE id = 2"),
        "lot: row 2 points at a row of place",
    ),
    "newer": (
        lambda file: change(file, "UPDATE alembic_version_core SET version_num = '9999'"),
        "the core tables of this database are at 9999",
    ),
    "in use": (
        lambda file: file.with_name("backup.sqlite3-wal").write_bytes(b"x"),
        "a database in use",
    ),
}


@pytest.mark.parametrize("how", SPOILED)
def test_what_is_no_sound_backup_is_refused(place: Place, how: str) -> None:
    """It is said what is wrong with the file, and the database stays as it was to the byte."""
    spoil, sentence = SPOILED[how]
    spoil(place.backup)
    before, files = place.file.read_bytes(), {*place.folder.iterdir()}
    ran = run(place.url, "restore", "--unsealed", place.backup)
    assert (ran.status, sentence in ran.said) == (1, True), ran.said
    assert place.file.read_bytes() == before
    assert {*place.folder.iterdir()} - files == {place.folder / "workshop.sqlite3.lock"}


def test_a_backup_without_its_checksum_has_to_be_asked_for(place: Place) -> None:
    """A file that nobody can check is taken only where --unsealed says so."""
    change(place.backup)
    refused = run(place.url, "restore", place.backup)
    assert (refused.status, "--unsealed" in refused.said) == (1, True)
    assert place.lots() == 1
    assert run(place.url, "restore", "--unsealed", place.backup).status == 0
    assert place.lots() == 2


def test_a_database_is_no_backup_of_itself(place: Place) -> None:
    """To restore the database from itself is refused."""
    alias = place.folder / "alias.sqlite3"
    alias.symlink_to(place.file)
    ran = run(place.url, "restore", alias)
    assert (ran.status, "the database itself" in ran.said) == (1, True)


def test_a_damaged_database_is_what_a_backup_is_for(place: Place) -> None:
    """A database that cannot be read is kept too, and what lies beside it is not taken for ours."""
    place.file.write_bytes(b"rubbish " * 999)
    wal = place.file.with_name("workshop.sqlite3-wal")
    wal.write_bytes(b"more rubbish")
    ran = run(place.url, "restore", place.backup)
    assert ran.status == 0, ran.said
    assert place.lots() == 2
    kept = place.kept()[0]
    assert kept.read_bytes() == b"rubbish " * 999
    assert kept.with_name(f"{kept.name}-wal").read_bytes() == b"more rubbish"


def test_a_restore_that_was_cut_short_can_be_done_again(place: Place) -> None:
    """Who ends just before the exchange leaves the former database, and a rerun works."""
    instant = "before_restore_put_in_place"
    assert run_and_end_at(instant, place.url, "restore", place.backup) == END_STATUS
    assert place.lots() == 1
    assert run(place.url, "restore", place.backup).status == 0
    assert (place.lots(), len(place.kept())) == (2, 2)


@pytest.mark.postgres
def test_on_postgresql_an_empty_database_is_filled_once(place: Place, cluster: Cluster) -> None:
    """Rows come into an empty database, all or none, and a second time is refused."""
    name = cluster.create()
    url = cluster.url(name)
    assert run_and_end_at("after_table_copied", url, "restore", place.backup) == END_STATUS
    assert "0 lots, 0 movements" in run(url, "audit").said
    ran = run(url, "restore", place.backup)
    assert (ran.status, "2 lots, 2 movements" in ran.said) == (0, True), ran.said
    again = run(url, "restore", place.backup)
    assert again.status == 1
    assert "rows in act, lot, movement, part, place, token; make an empty database" in again.said
    assert "2 lots, 2 movements" in run(url, "audit").said
    cluster.drop(name)
