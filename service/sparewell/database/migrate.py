"""Moving the tables of the core and of each plugin up and down.

Each owner is moved in one transaction. On SQLite foreign keys are off while a table is rebuilt and
checked before the commit; on PostgreSQL an advisory lock keeps two migrations apart and the wait
for table locks is bounded.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util.exc import CommandError
from sqlalchemy import Connection, MetaData, inspect, text

import sparewell_migrations
from sparewell.database import faults
from sparewell.database.engine import Database

VERSION_TABLE_PREFIX = "alembic_version_"
_ENVIRONMENT = Path(sparewell_migrations.__file__).parent
_ADVISORY_LOCK = 8_417_000


class MigrationError(Exception):
    """The tables cannot be brought to where they should be; the message says why."""


@dataclass(frozen=True)
class Owner:
    """Who owns tables: a name, the tables, and the folder of revisions."""

    name: str
    metadata: MetaData
    versions: Path

    @property
    def version_table(self) -> str:
        """The table that keeps the owner's revision."""
        return f"{VERSION_TABLE_PREFIX}{self.name}"


def core_owner(metadata: MetaData) -> Owner:
    """Return the core as an owner of tables."""
    return Owner("core", metadata, _ENVIRONMENT / "versions")


@dataclass(frozen=True)
class Status:
    """Where one owner stands: its revision in the database, and the newest in the code."""

    owner: str
    present: str | None
    newest: str | None
    is_newer: bool = False  # the database is at a revision that this program does not know

    @property
    def is_current(self) -> bool:
        """Whether nothing is left to do."""
        return self.present == self.newest


def upgrade(database: Database, owners: Sequence[Owner], revision: str = "head") -> None:
    """Bring every owner up, the core first. Raises :class:`MigrationError`."""
    for owner in owners:
        _move(database, owner, lambda config: command.upgrade(config, revision))


def downgrade(database: Database, owner: Owner, revision: str) -> None:
    """Take one owner down to a revision (`base` takes its tables away)."""
    _move(database, owner, lambda config: command.downgrade(config, revision))


def check(database: Database, owner: Owner) -> None:
    """Raise :class:`MigrationError` when the tables differ from what the code declares."""
    _move(database, owner, command.check)


def status(database: Database, owners: Sequence[Owner]) -> list[Status]:
    """Return where each owner stands."""
    with database.engine.connect() as connection:
        return [_status(connection, owner) for owner in owners]


def _status(connection: Connection, owner: Owner) -> Status:
    script = ScriptDirectory.from_config(_config(owner, connection))
    present = _context(connection, owner).get_current_revision()
    known = {revision.revision for revision in script.walk_revisions()}
    is_newer = present is not None and present not in known
    return Status(owner.name, present, script.get_current_head(), is_newer)


def orphans(database: Database, owners: Sequence[Owner]) -> list[str]:
    """Return owners whose tables are in the database but whose plugin is not here."""
    known = {owner.version_table for owner in owners}
    with database.engine.connect() as connection:
        names = inspect(connection).get_table_names()
    return sorted(
        name.removeprefix(VERSION_TABLE_PREFIX)
        for name in names
        if name.startswith(VERSION_TABLE_PREFIX) and name not in known
    )


def _config(owner: Owner, connection: Connection) -> Config:
    config = Config()
    config.set_main_option("script_location", str(_ENVIRONMENT))
    config.set_main_option("version_locations", str(owner.versions))
    config.set_main_option("path_separator", "newline")
    config.attributes["owner"] = owner
    config.attributes["connection"] = connection
    return config


def _context(connection: Connection, owner: Owner) -> MigrationContext:
    return MigrationContext.configure(connection, opts={"version_table": owner.version_table})


def _move(database: Database, owner: Owner, action: Callable[[Config], object]) -> None:
    with _migration_connection(database) as connection, warnings.catch_warnings():
        # On SQLite an index over an expression is passed over by whatever reads tables back.
        warnings.filterwarnings("ignore", message=".*expression-based index")
        try:
            action(_config(owner, connection))
        except CommandError as error:
            raise MigrationError(_explain(owner, str(error))) from error
        except Exception as error:
            raise MigrationError(
                f"{owner.name}: a revision failed and left nothing behind: {error}"
            ) from error


def _explain(owner: Owner, message: str) -> str:
    if "Can't locate revision" in message:
        return (
            f"the {owner.name} tables of this database are newer than this program: {message}. "
            "Install the newer Sparewell, or restore a backup made with this one"
        )
    return f"{owner.name}: {message}"


@contextmanager
def _migration_connection(database: Database) -> Iterator[Connection]:
    with database.write_lock.turn(), database.writer.connect() as connection:
        if database.is_sqlite:
            # The pragma is ignored inside a transaction, so it goes to the driver before BEGIN.
            driver = connection.connection.driver_connection
            assert driver is not None  # noqa: S101 - a connection just checked out has one
            driver.execute("PRAGMA foreign_keys=OFF")
            try:
                with connection.begin():
                    yield connection
                    _refuse_dangling(connection)
                    faults.reach(faults.BEFORE_MIGRATION_COMMIT)
            finally:
                driver.execute("PRAGMA foreign_keys=ON")
        else:
            with connection.begin():
                connection.execute(text("SET LOCAL statement_timeout = 0"))
                connection.execute(text("SET LOCAL lock_timeout = '10s'"))
                connection.execute(
                    text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _ADVISORY_LOCK}
                )
                yield connection
                faults.reach(faults.BEFORE_MIGRATION_COMMIT)


def _refuse_dangling(connection: Connection) -> None:
    dangling = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if dangling:
        raise MigrationError(f"{len(dangling)} rows would point at rows that are not there")
