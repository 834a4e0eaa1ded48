"""The lock file of an embedded database: one process serves, restores or migrates it at a time.

There are two locks. One is on `<database file>.lock`, which says who holds it, and is there before
the database is. The other is on the database itself, whatever its name: so a lock file that
somebody took away, or a second name of the same file, lets in nobody. Both are of the kind
flock(2), which on a local disk of Linux is apart from the locks that SQLite takes, fcntl(2); but
closing a file lets go of those, so ours is opened before SQLite opens it, and closed when that is
over. The system lets go of the locks when their holder ends in any way, so a crash leaves nothing
to clean up.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

SUFFIX = ".lock"
_LONGEST_NOTE_BYTES = 200


class LockHeld(Exception):  # noqa: N818 - an expected state, not a fault
    """Another process has the database; the message says which, where that is known."""


@contextmanager
def exclusive(database_file: Path | None, purpose: str) -> Iterator[None]:
    """Hold the database file for one purpose. Raises :class:`LockHeld`.

    A database that is no file looks after itself: None locks nothing.
    """
    if database_file is None:
        yield
        return
    # Two names of one file must meet at one lock.
    real_file = database_file.resolve()
    lock_file = real_file.with_name(real_file.name + SUFFIX)
    descriptor = os.open(lock_file, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _take(descriptor, real_file, descriptor)
        with _locked_itself(real_file, descriptor):
            _write(descriptor, f"{purpose} {os.getpid()}\n")
            yield
            _write(descriptor, "")
    finally:
        os.close(descriptor)


@contextmanager
def _locked_itself(database_file: Path, note: int) -> Iterator[None]:
    """Lock the database under whatever name it goes, where it is there already."""
    try:
        descriptor = os.open(database_file, os.O_RDONLY)
    except FileNotFoundError:
        yield
        return
    try:
        _take(descriptor, database_file, note)
        yield
    finally:
        os.close(descriptor)


def _take(descriptor: int, database_file: Path, note: int) -> None:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        holder = _holder(os.pread(note, _LONGEST_NOTE_BYTES, 0))
        raise LockHeld(
            f"{database_file} is in use by {holder}; stop that one first, and try again"
        ) from error


def _holder(note: bytes) -> str:
    purpose, _, process = note.decode("ascii", "replace").strip().partition(" ")
    if purpose.isalpha() and process.isdigit():
        return f"`sparewell {purpose}` (process {process})"
    return "another process"


def _write(descriptor: int, note: str) -> None:
    os.ftruncate(descriptor, 0)
    os.pwrite(descriptor, note.encode("ascii"), 0)
