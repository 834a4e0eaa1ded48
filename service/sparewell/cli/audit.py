"""`sparewell audit`: whether the ledger agrees with the balances, and the file with itself."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace

import click
from sqlalchemy import text
from sqlalchemy.orm import Session

from sparewell.audit.parcels import supply_faults
from sparewell.audit.pieces import audit
from sparewell.audit.purchases import purchase_faults
from sparewell.cli.failures import DONE, NO, Failure, configuration
from sparewell.cli.local import opened, owner_of_core, require_current, told_plainly
from sparewell.database.backup import damage, dangling
from sparewell.database.engine import Database
from sparewell.database.transaction import read
from sparewell.photographs.operations import altered


@dataclass(frozen=True)
class Findings:
    """What was counted, and each fault as a sentence; what was not looked at has no count."""

    lots: int | None
    movements: int | None
    reservations: int | None
    faults: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """Return the whole in words."""
        counts = "the balances were not looked at"
        if self.lots is not None:
            counts = (
                f"{self.lots} lots, {self.movements} movements, {self.reservations} reservations"
            )
        if self.faults:
            return f"{counts}: {len(self.faults)} faults"
        return counts if self.lots is None else f"{counts}: everything agrees"

    def refuse_faults(self, what: str) -> None:
        """Raise :class:`Failure` when there is a fault."""
        if self.faults:
            more = f", and {len(self.faults) - 1} more" if len(self.faults) > 1 else ""
            raise Failure(f"{what}: {self.faults[0]}{more}", NO)


@click.command(
    epilog="Exit status: 0 everything agrees; 1 there is a fault, or the tables are not there; "
    "2 wrong usage; 3 the database cannot be used."
)
@click.option("--json", "as_json", is_flag=True, help="Print the counts and the faults as JSON.")
@click.pass_context
def command(context: click.Context, *, as_json: bool) -> None:
    """Recompute every balance from the ledger and compare.

    It reads beside a running server and changes nothing. It always agrees; a fault means that
    something else wrote to the database. On SQLite it also looks whether the file is sound; in one
    that is not, the balances are not looked at.

    \b
    Example: sparewell audit && echo sound
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    with told_plainly(), opened(present.database_url) as database:
        require_current(database, [owner_of_core()])
        found = examine(database)
    if as_json:
        click.echo(json.dumps(asdict(found), ensure_ascii=False))
    else:
        for fault in found.faults:
            click.echo(fault)
        click.echo(found.verdict)
    context.exit(NO if found.faults else DONE)


def examine(database: Database, *, with_ledger: bool = True) -> Findings:
    """Look at the file, where it is one, and at the ledger, unless that is older than we are.

    Both happen at once, each over its own connection: SQLite reads a file through without keeping
    Python from anything. What was found in the ledger of a broken file is left aside.
    """
    if not database.is_sqlite:
        return _of_ledger(database) if with_ledger else Findings(None, None, None, ())
    with ThreadPoolExecutor(max_workers=1) as beside:
        ledger = beside.submit(_of_ledger, database) if with_ledger else None
        with read(database) as session:
            broken = damage(session.connection())
            astray = [] if broken else dangling(session.connection())
        if broken or ledger is None:
            return Findings(None, None, None, (*broken, *astray))
        found = ledger.result()
    return replace(found, faults=(*astray, *found.faults))


def _of_ledger(database: Database) -> Findings:
    with read(database) as session:
        _see_one_moment(database, session)
        return audited(session)


def audited(session: Session) -> Findings:
    """Return what the ledger, the parcels, the purchases and the photographs say."""
    found = audit(session)
    every_fault = (
        *found.faults,
        *supply_faults(session),
        *purchase_faults(session),
        *altered(session),
    )
    return Findings(found.lots, found.movements, found.reservations, every_fault)


def _see_one_moment(database: Database, session: Session) -> None:
    """Keep what others commit meanwhile out of sight, or balances would seem to disagree.

    SQLite does so by itself; PostgreSQL has to be asked, and given the time.
    """
    if not database.is_sqlite:
        session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
        session.execute(text("SET LOCAL statement_timeout = 0"))
