"""`sparewell token`: the keys to the service. Each is one short write beside a running server."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

import click

from sparewell.cli.failures import EXIT_STATUSES, WRONG_USAGE, Failure, configuration, note
from sparewell.cli.local import opened, owner_of_core, require_current, told_plainly
from sparewell.database.engine import Database
from sparewell.database.transaction import read, write
from sparewell.edge.context import utc_now
from sparewell.edge.scopes import SCOPES
from sparewell.edge.tables import Token
from sparewell.edge.tokens import all_tokens, new_token, revoke_token
from sparewell.extend.values import ValueRefused, clean_text

LONGEST_NAME = 100
LONGEST_DAYS = 36_500


@contextmanager
def _database() -> Iterator[Database]:
    present = configuration()
    with told_plainly(), opened(present.database_url) as database:
        require_current(database, [owner_of_core()])
        yield database


@click.group()
def command() -> None:
    """Make, list and revoke the keys to the service.

    \b
    Example: sparewell token new bench --scope write
    """  # noqa: D301 - click reads the backspace as "keep these lines"


@command.command(epilog=EXIT_STATUSES)
@click.argument("name")
@click.option(
    "--scope",
    type=click.Choice(SCOPES),
    required=True,
    help="What it opens: read looks and calculates, write changes, admin includes both.",
)
@click.option(
    "--expires-days",
    type=click.IntRange(1, LONGEST_DAYS),
    help="How many days it lasts; until it is revoked, where this is left out.",
)
def new(name: str, scope: str, expires_days: int | None) -> None:
    """Make a token and print it, this once; it is not kept anywhere.

    NAME tells tokens apart and stands with everything done with it. Standard output holds the
    token and nothing else.

    \b
    Example: export SPAREWELL_TOKEN=$(sparewell token new bench --scope write)
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    try:
        name = clean_text(name, "NAME", LONGEST_NAME)
    except ValueRefused as error:
        raise Failure(str(error), WRONG_USAGE) from error
    with _database() as database:
        now = utc_now()
        expires_at = None if expires_days is None else now + timedelta(days=expires_days)
        text = write(
            database,
            lambda session: new_token(session, name, scope, now, expires_at=expires_at),
        )
    until = "until it is revoked" if expires_at is None else f"until {_moment(expires_at)}"
    note(f"The token {name!r} of scope {scope} is good {until}. It is shown only now:")
    click.echo(text)


@command.command("list", epilog=EXIT_STATUSES)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def list_tokens(*, as_json: bool) -> None:
    """List the tokens by name, scope and state; their texts are not kept.

    \b
    Example: sparewell token list
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    with _database() as database, read(database) as session:
        now = utc_now()
        rows = [
            {
                "name": token.name,
                "starts_with": token.prefix,
                "scope": token.scope,
                "state": _state(token, now),
                "created_at": _moment(token.created_at),
                "expires_at": _moment(token.expires_at) if token.expires_at else None,
            }
            for token in all_tokens(session)
        ]
    if as_json:
        click.echo(json.dumps({"tokens": rows}, ensure_ascii=False))
        return
    for row in rows:
        until = f", until {row['expires_at']}" if row["expires_at"] else ""
        click.echo(
            f"{row['name']}: {row['scope']}, {row['state']}, {row['starts_with']}…, "
            f"made {row['created_at']}{until}"
        )
    if not rows:
        note("There is no token yet: sparewell token new NAME --scope write")


@command.command(epilog=EXIT_STATUSES)
@click.argument("name")
def revoke(name: str) -> None:
    """Make a token worthless from now on, at a running server too.

    \b
    Example: sparewell token revoke bench
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    with _database() as database:
        write(database, lambda session: revoke_token(session, name, utc_now()))
    click.echo(f"The token {name!r} is revoked")


def _state(token: Token, now: datetime) -> str:
    if token.revoked_at is not None:
        return "revoked"
    return "over" if token.expires_at is not None and token.expires_at <= now else "good"


def _moment(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M UTC")
