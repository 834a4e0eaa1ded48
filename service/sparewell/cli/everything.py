"""The part of `sparewell import` that fills an empty database from one JSON document."""

from __future__ import annotations

from pathlib import Path

import click
from sqlalchemy.orm import Session

from sparewell.app.owners import owners_of_tables
from sparewell.cli.audit import audited
from sparewell.cli.failures import WRONG_USAGE, Failure, configuration
from sparewell.cli.local import (
    declarations,
    opened,
    progress,
    require_current,
    told_plainly,
    unwound_by_signals,
)
from sparewell.database.copying import filling
from sparewell.database.lockfile import exclusive
from sparewell.database.migrate import status
from sparewell.exports.everything import Document, fill, refuse_other_revisions, tables_kept


def bring_in(file: Path) -> None:
    """Fill the empty database that SPAREWELL_DATABASE_URL names; all of it, or nothing."""
    present = configuration()
    with unwound_by_signals(), told_plainly(), opened(present.database_url) as database:
        owners = owners_of_tables(declarations(present))
        require_current(database, owners)
        tables = tables_kept(owners)
        try:
            source = file.open(encoding="utf-8", newline="\n")
        except OSError as error:
            raise Failure(f"{file} cannot be read: {error.strerror}", WRONG_USAGE) from error
        with source, exclusive(database.file, "import"):
            document = Document(source)
            head = document.head()
            revisions = {each.owner: each.present for each in status(database, owners)}
            refuse_other_revisions(head, revisions)
            size = max(1, file.stat().st_size)
            with filling(database, tables) as incoming, progress("Bringing in") as tell:
                found = fill(incoming, tables, document, lambda done: tell(min(done, size), size))
                # Closing the session must leave the transaction to us.
                with Session(incoming, join_transaction_mode="create_savepoint") as session:
                    findings = audited(session)
                findings.refuse_faults("nothing was brought in, for there is a fault in it")
                tell(size, size)
    rows = sum(found.values())
    click.echo(f"Brought in what was exported at {head.made_at}: {rows} rows; {findings.verdict}")
    click.echo("The keys to the service are not in it: sparewell token new NAME makes one")
