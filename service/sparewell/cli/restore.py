"""`sparewell restore`: a backup in the place of the database.

A file is first copied, then looked through, and what was looked through is put in place. On
PostgreSQL the rows of such a copy, brought up to this program, fill an empty database.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from sparewell.app.owners import owners_of_tables
from sparewell.cli.audit import Findings, audited, examine
from sparewell.cli.failures import EXIT_STATUSES, NO, Failure, configuration
from sparewell.cli.local import (
    MIGRATE_FIRST,
    declarations,
    opened,
    refuse_newer,
    refuse_orphans,
    told_plainly,
    unwound_by_signals,
)
from sparewell.cli.move import prepare, transfer
from sparewell.database.backup import (
    beside,
    kept_name,
    opened_to_look,
    refuse_changed,
    replace_database,
    temporary_beside,
)
from sparewell.database.copying import tally
from sparewell.database.engine import Database
from sparewell.database.lockfile import exclusive
from sparewell.database.migrate import Owner, Status, status, upgrade
from sparewell.database.transaction import read
from sparewell.edge.context import utc_now


@click.command(epilog=EXIT_STATUSES)
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--unsealed",
    is_flag=True,
    help="Take a file that carries no checksum, such as a plain copy of a database.",
)
def command(file: Path, unsealed: bool) -> None:  # noqa: FBT001 - an option of the command
    """Put a backup in the place of the database.

    On SQLite it refuses while a server runs; the database that is there is kept beside it, under a
    name with the moment in it. On PostgreSQL it fills an empty database. FILE is looked through
    first, and stays as it is.

    \b
    Example: sparewell restore /srv/backups/pens-2026-11-25.sqlite3
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    file = file.absolute()
    with unwound_by_signals(), told_plainly(), opened(present.database_url) as database:
        owners = owners_of_tables(declarations(present))
        if database.file is not None:
            _restore_file(file, database.file.resolve(), owners, sealed=not unsealed)
        else:
            _restore_rows(file, database, owners, sealed=not unsealed)


def _restore_file(file: Path, target: Path, owners: Sequence[Owner], *, sealed: bool) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    with exclusive(target, "restore"), temporary_beside(target) as temporary:
        if target.exists() and target.samefile(file):
            raise Failure(f"{file} is the database itself; there is nothing to restore", NO)
        states, found = _copy(file, temporary, owners, sealed=sealed)
        was_there = target.exists()
        kept = kept_name(target, "restore", utc_now())
        replace_database(temporary, target, kept)
    if was_there:
        click.echo(f"The former database is kept: {kept}")
    click.echo(f"Restored {target}: {found.verdict}")
    behind = [state.owner for state in states if not state.is_current]
    if behind:
        click.echo(f"The tables of {', '.join(behind)} are to be brought up: {MIGRATE_FIRST}")


def _restore_rows(file: Path, database: Database, owners: Sequence[Owner], *, sealed: bool) -> None:
    with TemporaryDirectory(prefix="sparewell-restore-") as folder:
        copy = Path(folder) / "backup.sqlite3"
        _copy(file, copy, owners, sealed=sealed)
        with opened(f"sqlite:///{copy}") as source:
            refuse_orphans(source, owners, str(file))
            prepare(database, owners)
            upgrade(source, owners)
            found = transfer(source, database, owners, "Restoring")
    click.echo(f"Restored and compared: {found.verdict}")


def _copy(
    file: Path, copy: Path, owners: Sequence[Owner], *, sealed: bool
) -> tuple[list[Status], Findings]:
    """Copy a backup and look through the copy. Raises :class:`Failure`."""
    for suffix in ("-wal", "-journal"):
        if beside(file, suffix).exists():
            raise Failure(
                f"{beside(file, suffix)} lies beside {file}, which is no backup then but a "
                "database in use; make a backup of it: sparewell backup",
                NO,
            )
    cannot = f"{file} cannot be restored"
    shutil.copyfile(file, copy)
    refuse_changed(copy, file, sealed=sealed)
    with opened_to_look(copy) as looked_at:
        found = examine(looked_at, with_ledger=False)
        found.refuse_faults(cannot)
        states = status(looked_at, owners)
        if states[0].present is None:
            raise Failure(f"{file} is an SQLite database, but not one of Sparewell", NO)
        refuse_newer(states)
        if states[0].is_current:
            with read(looked_at) as session:
                found = audited(session)
                found.refuse_faults(cannot)
                for table in owners[0].metadata.sorted_tables:
                    tally(session.connection(), table)
    return states, found
