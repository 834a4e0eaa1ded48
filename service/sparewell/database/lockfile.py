"""The lock file of an embedded database: one process serves, restores or migrates it at a time.

The lock is on `<database file>.lock`, which stays where it is: taking it away would let two
processes lock two different files of one name. The system lets go of the lock when its holder
ends in any way, so a crash leaves nothing to clean up.
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
    descriptor = os.open(lock_file, os.O_RDWR | os.O_CREAT, 0o644)
    try:
        _take(descriptor, real_file)
        _write(descriptor, f"{purpose} {os.getpid()}\n")
        yield
        _write(descriptor, "")
    finally:
        os.close(descriptor)


def _take(descriptor: int, database_file: Path) -> None:
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        holder = _holder(os.pread(descriptor, _LONGEST_NOTE_BYTES, 0))
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
