"""`sparewell move`: from one SQLite file to PostgreSQL, with every row."""

from __future__ import annotations

from collections.abc import Sequence

import click
from sqlalchemy import URL
from sqlalchemy.orm import Session

from sparewell.app.owners import owners_of_tables
from sparewell.cli.audit import Findings, audited, examine
from sparewell.cli.failures import EXIT_STATUSES, WRONG_USAGE, Failure, configuration
from sparewell.cli.local import (
    declarations,
    opened,
    progress,
    refuse_newer,
    refuse_orphans,
    require_current,
    told_plainly,
)
from sparewell.database.copying import copy_all, filling, refuse_rows, snapshot, tables_of
from sparewell.database.engine import Database
from sparewell.database.lockfile import exclusive
from sparewell.database.migrate import Owner, status, upgrade


@click.command(epilog=EXIT_STATUSES)
@click.option(
    "--to",
    "address",
    required=True,
    metavar="URL",
    help="The empty database: postgresql+psycopg://USER@HOST/NAME. The password may come from "
    "PGPASSWORD or ~/.pgpass, so that it does not stand on the command line.",
)
def command(address: str) -> None:
    """Move an SQLite database to PostgreSQL.

    Every row of the database that SPAREWELL_DATABASE_URL names is copied to an empty one, read back
    and compared, all in one transaction; the SQLite file is left as it is. Stop the server first.

    \b
    Example: sparewell move --to postgresql+psycopg://pens@localhost/pens
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    with told_plainly(), opened(present.database_url) as source, opened(address) as target:
        if not source.is_sqlite:
            raise Failure(
                "SPAREWELL_DATABASE_URL names no SQLite file, and only one can be moved; make a "
                "backup instead: it is an SQLite file",
                WRONG_USAGE,
            )
        if target.is_sqlite:
            raise Failure("--to takes postgresql+psycopg://USER@HOST/NAME", WRONG_USAGE)
        owners = owners_of_tables(declarations(present))
        require_current(source, owners)
        with exclusive(source.file, "move"):
            refuse_orphans(source, owners, "the database")
            examine(source, with_ledger=False).refuse_faults(
                "nothing was moved, for there is a fault"
            )
            prepare(target, owners)
            found = transfer(source, target, owners, "Moving")
    click.echo(f"Moved and compared: {found.verdict}")
    click.echo(
        f"From now on SPAREWELL_DATABASE_URL is {_shown(target.url)}; {source.file} is left as it "
        "is, and nothing new goes there"
    )


def prepare(target: Database, owners: Sequence[Owner]) -> None:
    """Give an empty database its tables. Refuses one that is newer or not empty."""
    refuse_newer(status(target, owners))
    refuse_orphans(target, owners, "the database to be filled")
    with target.engine.connect() as connection:
        refuse_rows(connection, tables_of(owners))
    upgrade(target, owners)


def transfer(source: Database, target: Database, owners: Sequence[Owner], label: str) -> Findings:
    """Copy every row, and commit when the copy is the same and its ledger agrees."""
    tables = tables_of(owners)
    with (
        snapshot(source) as outgoing,
        filling(target, tables) as incoming,
        progress(label) as on_rows,
    ):
        copy_all(outgoing, incoming, tables, on_rows)
        # Closing the session must leave the transaction to us.
        with Session(incoming, join_transaction_mode="create_savepoint") as session:
            found = audited(session)
        found.refuse_faults("nothing was copied, for there is a fault in the database")
    return found


def _shown(url: URL) -> str:
    """Return an address that may be printed: neither way of giving a password shows."""
    if "password" in url.query:
        url = url.update_query_dict({"password": "***"})
    return url.render_as_string(hide_password=True)
