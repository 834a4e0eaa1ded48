"""`sparewell migrate`: the tables of the core, then those of each plugin."""

from __future__ import annotations

from collections.abc import Sequence

import click

from sparewell.app.owners import owners_of_tables
from sparewell.cli.backup import write_backup
from sparewell.cli.failures import EXIT_STATUSES, NO, configuration
from sparewell.cli.local import (
    declarations,
    is_absent,
    opened,
    refuse_newer,
    told_plainly,
    unwound_by_signals,
)
from sparewell.database.backup import kept_name
from sparewell.database.engine import Database
from sparewell.database.lockfile import exclusive
from sparewell.database.migrate import Owner, Status, orphans, status, upgrade
from sparewell.edge.context import utc_now


@click.command(epilog=EXIT_STATUSES)
@click.option("--check", is_flag=True, help="Change nothing; exit 1 when there is something to do.")
@click.pass_context
def command(context: click.Context, *, check: bool) -> None:
    """Make the tables, or bring them up to this program.

    The core comes first, then each plugin that has tables, each in one transaction. It refuses
    while a server runs on the same SQLite file, and where the database is newer than the program.
    An SQLite database that is there already and behind is kept as it was, in a backup beside it.

    \b
    Example: SPAREWELL_DATABASE_URL=sqlite:////srv/pens/workshop.sqlite3 sparewell migrate
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    with unwound_by_signals(), told_plainly(), opened(present.database_url) as database:
        owners = owners_of_tables(declarations(present))
        if check:
            context.exit(_check(database, owners))
        if database.file is not None:
            database.file.parent.mkdir(parents=True, exist_ok=True)
        with exclusive(database.file, "migrate"):
            migrate(database, owners)


def migrate(database: Database, owners: Sequence[Owner]) -> None:
    """Bring every owner up and say what was done. Raises :class:`Failure` for a newer one."""
    states = status(database, owners)
    refuse_newer(states)
    _keep_as_it_is(database, owners, states)
    for owner in owners:
        # Another migration may have come first meanwhile, on PostgreSQL.
        (before,) = status(database, [owner])
        if before.is_current:
            click.echo(f"{owner.name}: already at {before.present}")
            continue
        upgrade(database, [owner])
        (after,) = status(database, [owner])
        click.echo(f"{owner.name}: from {before.present or 'nothing'} to {after.present}")
    _name_orphans(database, owners)


def _keep_as_it_is(database: Database, owners: Sequence[Owner], states: Sequence[Status]) -> None:
    """Back an embedded database up when there is something in it and something to do."""
    is_behind = not all(state.is_current for state in states)
    if database.file is None or not is_behind or not any(state.present for state in states):
        return
    kept = kept_name(database.file.resolve(), "migration", utc_now())
    write_backup(database, kept, owners)
    click.echo(f"The database as it was is kept: {kept}")


def _check(database: Database, owners: Sequence[Owner]) -> int:
    """Say where each owner stands and return the exit status."""
    if is_absent(database):
        click.echo(f"there is no {database.file} yet")
        return NO
    states = status(database, owners)
    for state in states:
        click.echo(f"{state.owner}: {_standing(state)}")
    _name_orphans(database, owners)
    return 0 if all(state.is_current for state in states) else NO


def _standing(state: Status) -> str:
    if state.is_current:
        return f"current, at {state.present}"
    if state.is_newer:
        return f"at {state.present}, newer than this program ({state.newest})"
    return f"behind, at {state.present or 'nothing'} of {state.newest}"


def _name_orphans(database: Database, owners: Sequence[Owner]) -> None:
    for name in orphans(database, owners):
        click.echo(f"{name}: left alone, its plugin is not here or is skipped")
