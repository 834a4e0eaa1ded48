"""`sparewell backup`: one SQLite file that holds everything, whichever database it came from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import click

from sparewell.app.owners import owners_of_tables
from sparewell.cli.audit import Findings, examine
from sparewell.cli.failures import EXIT_STATUSES, NO, UNREACHABLE, Failure, configuration
from sparewell.cli.local import (
    MIGRATE_FIRST,
    declarations,
    is_absent,
    is_full,
    opened,
    refuse_newer,
    refuse_orphans,
    require_current,
    told_plainly,
    unwound_by_signals,
)
from sparewell.cli.move import transfer
from sparewell.database.backup import (
    opened_to_look,
    put_in_place,
    seal,
    temporary_beside,
    write_snapshot,
)
from sparewell.database.engine import Database
from sparewell.database.migrate import Owner, status, upgrade


@click.command(epilog=EXIT_STATUSES)
@click.argument("file", type=click.Path(path_type=Path))
def command(file: Path) -> None:
    """Write a backup, beside a running server: one SQLite file.

    It holds everything as it was at one moment, from either kind of database, and is looked through
    before it is given the name FILE, which must be free. sparewell restore FILE brings it back. A
    database file copied by hand while a server runs may be damaged; this one never is.

    \b
    Example: sparewell backup /srv/backups/pens-$(date +%F).sqlite3
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    file = file.absolute()
    with unwound_by_signals(), told_plainly(), opened(present.database_url) as database:
        owners = owners_of_tables(declarations(present))
        if database.is_sqlite:
            _require_ours(database, owners)
        else:
            require_current(database, owners)
            refuse_orphans(database, owners, "the database")
        with named_on_failure(file):
            found, size_bytes = write_backup(database, file, owners)
    click.echo(f"{file}: {size_bytes} bytes; {found.verdict}")


def write_backup(database: Database, file: Path, owners: Sequence[Owner]) -> tuple[Findings, int]:
    """Write the file and return what is in it and its size. Raises :class:`Failure`."""
    _refuse_place(file)
    with temporary_beside(file) as temporary:
        if database.is_sqlite:
            write_snapshot(database, temporary)
        else:
            _write_rows(database, temporary, owners)
        seal(temporary)
        with opened_to_look(temporary) as copy:
            found = examine(copy, with_ledger=status(copy, owners[:1])[0].is_current)
        found.refuse_faults("no backup was made, for there is a fault in the database")
        size_bytes = temporary.stat().st_size
        put_in_place(temporary, file)
    return found, size_bytes


def _write_rows(database: Database, file: Path, owners: Sequence[Owner]) -> None:
    with (
        TemporaryDirectory(prefix="sparewell-backup-") as folder,
        opened(f"sqlite:///{Path(folder) / 'rows.sqlite3'}") as target,
    ):
        upgrade(target, owners)
        transfer(database, target, owners, "Writing the backup")
        write_snapshot(target, file)


def _require_ours(database: Database, owners: Sequence[Owner]) -> None:
    """Refuse what is no database of ours; one that is to be migrated can be kept."""
    states = [] if is_absent(database) else status(database, owners)
    if not states or states[0].present is None:
        raise Failure(f"there is no workshop in {database.file} yet; first: {MIGRATE_FIRST}", NO)
    refuse_newer(states)


def _refuse_place(file: Path) -> None:
    if not file.parent.is_dir():
        raise Failure(f"there is no folder {file.parent}; make it first", NO)
    if file.exists() or file.is_symlink():
        raise FileExistsError(file)


@contextmanager
def named_on_failure(file: Path) -> Iterator[None]:
    """Say of which file it is that something could not be done."""
    try:
        yield
    except FileExistsError as error:
        raise Failure(
            f"{file} is there already, and is left as it is; give another name", NO
        ) from error
    except OSError as error:
        if is_full(error):
            raise
        raise Failure(f"{file} cannot be written: {error.strerror}", UNREACHABLE) from error
