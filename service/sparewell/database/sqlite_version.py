"""Which SQLite this is, and the bug that some of its versions have."""

from __future__ import annotations

import sqlite3

# The WAL-reset bug, from the change log of SQLite: in 3.7.0 and later, mended in 3.51.3, and in the
# maintained older lines from the releases below.
_FIRST_WITH = (3, 7, 0)
_FIRST_WITHOUT = (3, 51, 3)
_MENDED_LINES = {(3, 44): 6, (3, 50): 7}


def known_bug(version: tuple[int, int, int] | None = None) -> str | None:
    """Return what to know of an SQLite version's bug, or None where it has none we know of."""
    version = version or sqlite3.sqlite_version_info
    if not _FIRST_WITH <= version < _FIRST_WITHOUT:
        return None
    mended_from = _MENDED_LINES.get(version[:2])
    if mended_from is not None and version[2] >= mended_from:
        return None
    return (
        f"SQLite {'.'.join(map(str, version))} can damage a file when two connections write or "
        "checkpoint at the same instant (the WAL-reset bug, mended in 3.51.3). One serving process "
        "that keeps its writers apart stays clear of it: leave the file to Sparewell alone, keep "
        "backups (sparewell backup), and take a newer SQLite when you can"
    )
