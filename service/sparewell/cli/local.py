"""What the commands that work on the database themselves have in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from sparewell.app.factory import core_declarations
from sparewell.app.metadata import CORE_METADATA
from sparewell.app.server import AddressError
from sparewell.cli.failures import NO, UNREACHABLE, WRONG_USAGE, Failure, note
from sparewell.configuration import Configuration
from sparewell.database.engine import Database, DatabaseError, open_database
from sparewell.database.lockfile import LockHeld
from sparewell.database.migrate import MigrationError, Owner, Status, core_owner, status
from sparewell.database.transaction import Busy, Silent, StorageFull
from sparewell.errors import Refusal
from sparewell.extend.host import Declarations, PluginError

MIGRATE_FIRST = "sparewell migrate"


@contextmanager
def told_plainly() -> Iterator[None]:
    """Turn every expected failure into one sentence and an exit status."""
    try:
        yield
    except BrokenPipeError:
        raise  # whoever read our output has gone: click ends quietly
    except (DatabaseError, AddressError) as error:
        raise Failure(str(error), WRONG_USAGE) from error
    except (PluginError, MigrationError, LockHeld) as error:
        raise Failure(str(error), NO) from error
    except Refusal as refusal:
        raise Failure(refusal.detail, NO) from refusal
    except Busy as error:
        raise Failure("the database is busy; nothing was done, try again", UNREACHABLE) from error
    except StorageFull as error:
        raise Failure("the disk is full; nothing was done", UNREACHABLE) from error
    except (Silent, SQLAlchemyError, OSError) as error:
        raise Failure(f"the database cannot be used: {_cause(error)}", UNREACHABLE) from error


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
    try:
        yield database
    finally:
        database.close()


def is_absent(database: Database) -> bool:
    """Whether the embedded database's file is not there yet; looking must not make it."""
    return database.file is not None and not database.file.exists()


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
    for state in states:
        if state.is_newer:
            raise Failure(newer_sentence(state), NO)
    behind = [state.owner for state in states if not state.is_current]
    if behind:
        raise Failure(
            f"the tables of {', '.join(behind)} are not there yet, or are older than this "
            f"program; first: {MIGRATE_FIRST}",
            NO,
        )


def newer_sentence(state: Status) -> str:
    """Say that the database is ahead of the program."""
    return (
        f"the {state.owner} tables of this database are at {state.present}, which is newer than "
        f"this program ({state.newest}); install the newer Sparewell, or restore a backup made "
        "with this one"
    )
