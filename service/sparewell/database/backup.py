"""Backups as files: written beside their place, examined, and only then put there.

A backup is one SQLite file that nothing writes to any more, so it carries a checksum of itself in
two fields of its header that SQLite leaves to programs: SQLite's own check sees only a broken
structure, this sees every byte. A database that is served is in another format (WAL), in which the
checksum no longer counts, and it is taken off when a database is put aside.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import sqlite3
import stat
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Final

from sqlalchemy import URL, Connection, NullPool, create_engine
from sqlalchemy.exc import DatabaseError as DriverError

from sparewell.database import faults
from sparewell.database.engine import BUSY_SECONDS, Database, WriteLock

SIDE_FILES: Final = ("-wal", "-journal", "-shm")
MOST_FAULTS = 20
_HEADER = b"SQLite format 3\0"
_HEADER_BYTES = 100
_FORMAT = slice(18, 20)
_ROLLBACK_FORMAT = b"\1\1"
_WAL_FORMAT = b"\2\2"
_CHECKSUM = slice(60, 64)  # the header's "user version"
_MARK = slice(68, 72)  # the header's "application id"
_MARKED = b"Spar"
_EMPTY = b"\0\0\0\0"
_CHUNK_BYTES = 1 << 20
_WITHOUT_LINKS = {errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK}
_DAMAGED = ("SQLITE_CORRUPT", "SQLITE_NOTADB")


class BackupError(Exception):
    """A file cannot be used as a backup, or not be put in its place; the message says why."""


@contextmanager
def temporary_beside(file: Path) -> Iterator[Path]:
    """Give an empty file in the same folder, readable by its owner only; it is gone afterwards."""
    path = file.with_name(f".sparewell-{secrets.token_hex(6)}.partial")
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    try:
        yield path
    finally:
        for suffix in ("", *SIDE_FILES):
            beside(path, suffix).unlink(missing_ok=True)


def beside(file: Path, suffix: str) -> Path:
    """Return the file of the same name with something added."""
    return file.with_name(file.name + suffix)


def kept_name(file: Path, occasion: str, now: datetime) -> Path:
    """Return a free name beside a database, under which it is kept as it is now."""
    name = f".before-{occasion}-{now:%Y%m%dT%H%M%SZ}"
    number = 1
    while os.path.lexists(beside(file, name if number == 1 else f"{name}-{number}")):
        number += 1
    return beside(file, name if number == 1 else f"{name}-{number}")


def write_snapshot(database: Database, path: Path) -> None:
    """Write an embedded database as it is at this moment into an empty file."""
    with closing(database.engine.raw_connection()) as connection:
        connection.driver_connection.execute("VACUUM INTO ?", (os.fspath(path),))  # type: ignore[union-attr] # a connection just checked out has a driver


def seal(path: Path) -> None:
    """Let the file carry its checksum, and wait until it is on the disk."""
    with path.open("r+b") as file:
        file.seek(_MARK.start)
        file.write(_MARKED)
        file.flush()
        checksum = _checksum_of(path)
        file.seek(_CHECKSUM.start)
        file.write(checksum)
    synchronise(path)


def synchronise(path: Path) -> None:
    """Wait until a file, or a folder's list of names, is on the disk."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def refuse_changed(path: Path, name: Path, *, sealed: bool = True) -> None:
    """Raise :class:`BackupError` when the file is no SQLite file, or not as it was written.

    What carries no checksum cannot be told from what was changed; it has to be asked for.
    """
    with path.open("rb") as file:
        header = file.read(_HEADER_BYTES)
    if not header.startswith(_HEADER):
        raise BackupError(f"{name} is no SQLite database")
    is_sealed = header[_MARK] == _MARKED and header[_FORMAT] != _WAL_FORMAT
    if sealed and not is_sealed:
        raise BackupError(
            f"{name} carries no checksum, so nobody can tell whether it is as it was written; a "
            "backup by sparewell backup has one. --unsealed takes the file all the same"
        )
    is_intact = not is_sealed or header[_CHECKSUM] == _checksum_of(path)
    # In any other format SQLite would only read it.
    if not is_intact or header[_FORMAT] not in {_ROLLBACK_FORMAT, _WAL_FORMAT}:
        raise BackupError(
            f"{name} is damaged, or was written to since it was made: its checksum is another"
        )


def _checksum_of(path: Path) -> bytes:
    with path.open("rb") as file:
        header = bytearray(file.read(_HEADER_BYTES))
        header[_CHECKSUM] = _EMPTY
        checksum = zlib.crc32(header)
        while chunk := file.read(_CHUNK_BYTES):
            checksum = zlib.crc32(chunk, checksum)
    return checksum.to_bytes(4, "big")


@contextmanager
def opened_to_look(path: Path) -> Iterator[Database]:
    """Give a database file that nobody writes to, without changing a byte of it or beside it."""
    address = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
    engine = create_engine(
        "sqlite://",
        creator=lambda: sqlite3.connect(address, uri=True),
        poolclass=NullPool,
        hide_parameters=True,
    )
    url = URL.create("sqlite", database=os.fspath(path))
    try:
        yield Database(url, engine, engine, WriteLock(needed=False))
    finally:
        engine.dispose()


def damage(connection: Connection) -> list[str]:
    """Return what SQLite finds broken in the structure of its own file."""
    try:
        found = connection.exec_driver_sql(f"PRAGMA integrity_check({MOST_FAULTS})").scalars()
        return [f"the file is damaged: {line}" for line in found if line != "ok"]
    except DriverError as error:
        if not getattr(error.orig, "sqlite_errorname", "").startswith(_DAMAGED):
            raise
        return [f"the file is damaged: {error.orig}"]
    except UnicodeDecodeError:
        return ["the file is damaged: its list of tables cannot be read"]


def dangling(connection: Connection) -> list[str]:
    """Return the rows of an embedded database that point at rows which are not there."""
    found = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(MOST_FAULTS)
    return [
        f"{table}: row {row} points at a row of {other} that is not there"
        for table, row, other, _ in found
    ]


def put_in_place(temporary: Path, file: Path) -> None:
    """Give a finished file its name; one that is there already stays. Raises FileExistsError."""
    faults.reach(faults.AFTER_BACKUP_WRITTEN)
    try:
        file.hardlink_to(temporary)
    except OSError as error:
        if error.errno not in _WITHOUT_LINKS:
            raise
        # Some file systems of sticks know no links: there the name is taken first.
        os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        temporary.replace(file)
    synchronise(file.parent)


@contextmanager
def at_rest(file: Path) -> Iterator[None]:
    """Keep everybody out of a database that is in one file, with nothing beside it.

    Raises :class:`BackupError` while another program has it open. What SQLite cannot read at all is
    left as it is: nobody else can have it open in any way that matters.
    """
    with closing(sqlite3.connect(file, timeout=BUSY_SECONDS, isolation_level=None)) as connection:
        try:
            (mode,) = connection.execute("PRAGMA journal_mode=DELETE").fetchone()
            _unseal_by_statement(connection)
            connection.execute("BEGIN EXCLUSIVE")
            if beside(file, "-wal").exists():
                mode = "wal"  # somebody came in between
        except sqlite3.DatabaseError as error:
            mode = "locked"
            if error.sqlite_errorname.startswith(_DAMAGED):
                mode = "unreadable"
            elif not error.sqlite_errorname.startswith("SQLITE_BUSY"):
                raise
        if mode not in {"delete", "unreadable"}:
            raise BackupError(f"{file} is open in another program; end that one first")
        yield


def _unseal_by_statement(connection: sqlite3.Connection) -> None:
    """Take off the checksum that a database has from the backup it once was."""
    (mark,) = connection.execute("PRAGMA application_id").fetchone()
    if mark == int.from_bytes(_MARKED, "big"):
        connection.execute("PRAGMA user_version=0")
        connection.execute("PRAGMA application_id=0")


def replace_database(temporary: Path, file: Path, kept: Path) -> None:
    """Put a finished file in a database's place, and keep what was there under another name.

    At every instant there is a database under the name: the former, or the new one.
    """
    synchronise(temporary)
    if not file.exists():
        _put_in_place_of(temporary, file, kept)
        return
    _take_over_rights(file, temporary)
    with at_rest(file):
        _keep(file, kept)
        _put_in_place_of(temporary, file, kept)


def _keep(file: Path, kept: Path) -> None:
    """Give the former database its second name, or where there are no links, a copy."""
    try:
        kept.hardlink_to(file)
    except OSError as error:
        if error.errno not in _WITHOUT_LINKS:
            raise
        shutil.copy2(file, kept)
        synchronise(kept)


def _put_in_place_of(temporary: Path, file: Path, kept: Path) -> None:
    # Only of an unreadable or a lost database is any left; SQLite would take it for the new one's.
    for suffix in SIDE_FILES:
        with suppress(FileNotFoundError):
            beside(file, suffix).replace(beside(kept, suffix))
    synchronise(file.parent)
    faults.reach(faults.BEFORE_RESTORE_PUT_IN_PLACE)
    temporary.replace(file)
    synchronise(file.parent)


def _take_over_rights(file: Path, temporary: Path) -> None:
    """Whoever could use the former file can use the new one."""
    former = file.stat()
    with suppress(PermissionError):
        os.chown(temporary, former.st_uid, former.st_gid)
    temporary.chmod(stat.S_IMODE(former.st_mode))
