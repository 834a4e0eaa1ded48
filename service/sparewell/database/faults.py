"""Named places at which a test can make the process fail; outside tests they do nothing.

A crash that a test brings about at random may never hit the instant that matters. At these places
it happens there and nowhere else: a test arms a place with something that raises, waits or ends the
process. Nothing in the product arms one.
"""

from __future__ import annotations

from collections.abc import Callable

AFTER_KEY_CLAIMED = "after_key_claimed"
AFTER_BALANCE_CHANGED = "after_balance_changed"
AFTER_LEDGER_WRITTEN = "after_ledger_written"
BEFORE_COMMIT = "before_commit"
AFTER_COMMIT = "after_commit"
BEFORE_MIGRATION_COMMIT = "before_migration_commit"
AFTER_BACKUP_WRITTEN = "after_backup_written"
BEFORE_RESTORE_PUT_IN_PLACE = "before_restore_put_in_place"
AFTER_TABLE_COPIED = "after_table_copied"
AFTER_ROWS_ARRIVED = "after_rows_arrived"

PLACES = (
    AFTER_KEY_CLAIMED,
    AFTER_BALANCE_CHANGED,
    AFTER_LEDGER_WRITTEN,
    BEFORE_COMMIT,
    AFTER_COMMIT,
    BEFORE_MIGRATION_COMMIT,
    AFTER_BACKUP_WRITTEN,
    BEFORE_RESTORE_PUT_IN_PLACE,
    AFTER_TABLE_COPIED,
    AFTER_ROWS_ARRIVED,
)

_armed: dict[str, Callable[[], None]] = {}


def reach(place: str) -> None:
    """Say that a place is reached; whatever it was armed with happens now."""
    action = _armed.get(place)
    if action is not None:
        action()


def arm(place: str, action: Callable[[], None]) -> None:
    """Let something happen at a place from now on. Raises ValueError for a place that is none."""
    if place not in PLACES:
        raise ValueError(f"{place!r} is no place; places are {', '.join(PLACES)}")
    _armed[place] = action


def disarm() -> None:
    """Let nothing happen anywhere."""
    _armed.clear()
