"""`sparewell audit`: whether the ledger agrees with the balances."""

from __future__ import annotations

import json
from dataclasses import asdict

import click
from sqlalchemy import text
from sqlalchemy.orm import Session

from sparewell.cli.failures import DONE, NO, configuration
from sparewell.cli.local import opened, owner_of_core, require_current, told_plainly
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.stock.audit import audit


@click.command(
    epilog="Exit status: 0 everything agrees; 1 there is a fault, or the tables are not there; "
    "2 wrong usage; 3 the database cannot be used."
)
@click.option("--json", "as_json", is_flag=True, help="Print the counts and the faults as JSON.")
@click.pass_context
def command(context: click.Context, *, as_json: bool) -> None:
    """Recompute every balance from the ledger and compare.

    It reads beside a running server and changes nothing. It always agrees; a fault means that
    something else wrote to the database.

    \b
    Example: sparewell audit && echo sound
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    with told_plainly(), opened(present.database_url) as database:
        require_current(database, [owner_of_core()])
        with read(database) as session:
            _see_one_moment(database, session)
            found = audit(session)
    if as_json:
        click.echo(json.dumps(asdict(found), ensure_ascii=False))
    else:
        for fault in found.faults:
            click.echo(fault)
        verdict = f"{len(found.faults)} faults" if found.faults else "everything agrees"
        click.echo(
            f"{found.lots} lots, {found.movements} movements, {found.reservations} reservations: "
            f"{verdict}"
        )
    context.exit(NO if found.faults else DONE)


def _see_one_moment(database: Database, session: Session) -> None:
    """Keep what others commit meanwhile out of sight, or balances would seem to disagree.

    SQLite does so by itself; PostgreSQL has to be asked, and given the time.
    """
    if not database.is_sqlite:
        session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
        session.execute(text("SET LOCAL statement_timeout = 0"))
