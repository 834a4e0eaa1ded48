"""Files of the workshop are for their owner alone, whatever the shell says of new files."""

from __future__ import annotations

import stat
from contextlib import suppress
from pathlib import Path

FILE_MODE, FOLDER_MODE = 0o600, 0o700
OTHERS = 0o077
_SUFFIXES = ("", "-wal", "-shm", "-journal", ".lock")


def keep_private(database_file: Path, own_folder: Path) -> list[str]:
    """Tighten a database's files to their owner; say which were open to others.

    Of folders only the one that is ours alone is tightened: another may be shared for a reason.
    """
    files = [database_file.with_name(database_file.name + suffix) for suffix in _SUFFIXES]
    found = [(file, FILE_MODE) for file in files]
    if database_file.parent == own_folder:
        found.append((own_folder, FOLDER_MODE))
    return [_told(path, mode) for path, mode in found if _was_looser(path, mode)]


def _was_looser(path: Path, mode: int) -> bool:
    # What belongs to somebody else, or is not there, is not ours to change.
    with suppress(FileNotFoundError, PermissionError):
        if stat.S_IMODE(path.stat().st_mode) & OTHERS:
            path.chmod(mode)
            return True
    return False


def _told(path: Path, mode: int) -> str:
    return f"{path} was open to others and is now for its owner alone ({mode:04o})"
