"""What the commands that work on the database themselves have in common."""

from __future__ import annotations

import errno
import os
import signal
import sqlite3
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from types import FrameType

import click
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from sparewell.app.declarations import core_declarations
from sparewell.app.metadata import CORE_METADATA
from sparewell.app.server import AddressError
from sparewell.cli.failures import NO, UNREACHABLE, WRONG_USAGE, Failure, note
from sparewell.configuration import Configuration, default_folder
from sparewell.database.backup import BackupError
from sparewell.database.copying import CopyError, Progress
from sparewell.database.engine import Database, DatabaseError, open_database
from sparewell.database.lockfile import LockHeld
from sparewell.database.migrate import MigrationError, Owner, Status, core_owner, orphans, status
from sparewell.database.private import OTHERS, keep_private
from sparewell.database.sqlite_version import known_bug
from sparewell.database.transaction import Busy, Silent, StorageFull
from sparewell.database.transaction import is_full as said_full
from sparewell.errors import Refusal
from sparewell.extend.host import Declarations, PluginError

MIGRATE_FIRST = "sparewell migrate"
SIGNAL_BASE = 128
DISK_FULL = "the disk is full; nothing was done"
_FULL_NUMBERS = (errno.ENOSPC, errno.EDQUOT)


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn every expected failure into one sentence and an exit status."""
    try:
        yield
    except BrokenPipeError:
        raise  # whoever read our output has gone: click ends quietly
    except (DatabaseError, AddressError) as error:
        raise Failure(str(error), WRONG_USAGE) from error
    except (PluginError, MigrationError, LockHeld, BackupError, CopyError) as error:
        if is_full(error):
            raise Failure(DISK_FULL, UNREACHABLE) from error
        raise Failure(str(error), NO) from error
    except Refusal as refusal:
        raise Failure(refusal.detail, NO) from refusal
    except Busy as error:
        raise Failure("the database is busy; nothing was done, try again", UNREACHABLE) from error
    except StorageFull as error:
        raise Failure(DISK_FULL, UNREACHABLE) from error
    except (Silent, SQLAlchemyError, sqlite3.Error, OSError) as error:
        if is_full(error):
            raise Failure(DISK_FULL, UNREACHABLE) from error
        raise Failure(f"the database cannot be used: {_cause(error)}", UNREACHABLE) from error


@contextmanager
def unwound_by_signals() -> Iterator[None]:
    """Let a signal that ends the command clear up behind it, as Ctrl-C does."""

    def end(number: int, _frame: FrameType | None) -> None:
        sys.exit(SIGNAL_BASE + number)

    numbers = (signal.SIGTERM, signal.SIGHUP)
    former = {number: signal.getsignal(number) for number in numbers}
    for number, handler in former.items():
        if handler is not signal.SIG_IGN:
            signal.signal(number, end)
    try:
        yield
    finally:
        for number, handler in former.items():
            signal.signal(number, handler)


def is_full(error: BaseException | None) -> bool:
    """Whether a full disk is at the bottom of a failure."""
    while error is not None:
        if said_full(error) or getattr(error, "errno", None) in _FULL_NUMBERS:
            return True
        error = error.__cause__
    return False


def _cause(error: BaseException) -> str:
    """Return the driver's own first line, without the statement and the help address behind it."""
    if isinstance(error, Silent) and error.__cause__ is not None:
        error = error.__cause__
    inner = (error.orig if isinstance(error, DBAPIError) else None) or error
    return (str(inner).splitlines() or [type(inner).__name__])[0]


@contextmanager
def opened(database_url: str) -> Iterator[Database]:
    """Give the database for as long as the command runs."""
    database = open_database(database_url)
    # What is made from here on is for its owner alone, the files that SQLite makes too.
    former = os.umask(OTHERS)
    if database.file is not None:
        for said in keep_private(database.file.resolve(), default_folder()):
            note(said)
    try:
        yield database
    finally:
        database.close()
        os.umask(former)


def is_absent(database: Database) -> bool:
    """Whether the embedded database's file is not there yet; looking must not make it."""
    return database.file is not None and not database.file.exists()


def warn_of_old_sqlite(database: Database) -> None:
    """Say so when the library of an embedded database has a known bug."""
    bug = known_bug() if database.is_sqlite else None
    if bug:
        note(bug)


def declarations(configuration: Configuration) -> Declarations:
    """Load the plugins, and say so when one to be skipped is not there."""
    declared = core_declarations(configuration.skip_plugins)
    strangers = configuration.skip_plugins - {record.name for record in declared.plugins}
    if strangers:
        note(f"SPAREWELL_SKIP_PLUGINS names {', '.join(sorted(strangers))}, not installed here")
    return declared


def owner_of_core() -> Owner:
    """Return the core as an owner of tables, for commands that need no plugin."""
    return core_owner(CORE_METADATA)


def require_current(database: Database, owners: Sequence[Owner]) -> None:
    """Refuse to work on tables that are not those of this program."""
    if is_absent(database):
        raise Failure(f"there is no {database.file} yet; first: {MIGRATE_FIRST}", NO)
    states = status(database, owners)
    refuse_newer(states)
    behind = [state.owner for state in states if not state.is_current]
    if behind:
        raise Failure(
            f"the tables of {', '.join(behind)} are not there yet, or are older than this "
            f"program; first: {MIGRATE_FIRST}",
            NO,
        )


def refuse_newer(states: Sequence[Status]) -> None:
    """Refuse a database that is ahead of the program."""
    for state in states:
        if state.is_newer:
            raise Failure(newer_sentence(state), NO)


def refuse_orphans(database: Database, owners: Sequence[Owner], where: str) -> None:
    """Refuse to copy what only a plugin that is not here could read."""
    names = orphans(database, owners)
    if names:
        raise Failure(
            f"{where} holds tables of {', '.join(names)}, whose plugin is not here or is skipped, "
            "so that their rows would be left behind; install the plugin first",
            NO,
        )


@contextmanager
def progress(label: str) -> Iterator[Progress]:
    """Show on standard error how far it is; what is given is to be told."""
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def tell(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield tell


def newer_sentence(state: Status) -> str:
    """Say that the database is ahead of the program."""
    return (
        f"the {state.owner} tables of this database are at {state.present}, which is newer than "
        f"this program ({state.newest}); install the newer Sparewell, or restore a backup made "
        "with this one"
    )
