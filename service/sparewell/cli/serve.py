"""`sparewell serve`: the API, in one process or, on PostgreSQL, in several."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable
from socket import socket

import click

from sparewell.app.factory import create_app
from sparewell.app.log import kept_log
from sparewell.app.owners import owners_of_tables
from sparewell.app.server import bind, serve_app
from sparewell.app.sweep import Sweeper
from sparewell.app.workers import MOST_WORKERS, Workers, WorkersFailed
from sparewell.cli.failures import NO, WRONG_USAGE, Failure, configuration, note
from sparewell.cli.local import (
    declarations,
    is_absent,
    opened,
    require_current,
    told_plainly,
    warn_of_old_sqlite,
)
from sparewell.configuration import BODY_LIMIT, DEFAULT_PORT, Configuration
from sparewell.database.engine import Database
from sparewell.database.lockfile import exclusive
from sparewell.edge.hosts import names_for
from sparewell.extend.host import Declarations

DEFAULT_HOST = "127.0.0.1"
HIGHEST_PORT = 65_535
WORKER_MODULE = "sparewell.cli.worker"
ONE_PROCESS = (
    "--workers needs PostgreSQL: an SQLite file is served by one process, which keeps its writers "
    "apart; SPAREWELL_DATABASE_URL names the database"
)


host_option = click.option(
    "--host", default=DEFAULT_HOST, show_default=True, help="The address to listen on."
)
port_option = click.option(
    "--port",
    type=click.IntRange(0, HIGHEST_PORT),
    default=DEFAULT_PORT,
    show_default=True,
    help="The port to listen on; 0 takes any that is free.",
)


@click.command(
    epilog="Exit status: 0 stopped in an orderly way; 1 refused; 2 wrong usage; 3 the database "
    "cannot be used."
)
@host_option
@port_option
@click.option(
    "--workers",
    type=click.IntRange(1, MOST_WORKERS),
    default=1,
    show_default=True,
    help="How many processes serve; more than one needs PostgreSQL.",
)
def command(host: str, port: int, workers: int) -> None:
    """Serve the API from the database.

    It runs until Ctrl-C or SIGTERM, which let requests in flight be answered first. The tables
    have to be there (sparewell migrate), and somebody needs a token (sparewell token new). The log
    goes to standard error, one JSON object a line.

    \b
    Example: sparewell serve --port 8417
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    with (
        kept_log(present.log_level),
        told_plainly(),
        opened(present.database_url) as database,
    ):
        if workers > 1 and database.is_sqlite:
            raise Failure(ONE_PROCESS, WRONG_USAGE)
        declared = declarations(present)
        owners = owners_of_tables(declared)
        if is_absent(database):
            require_current(database, owners)
        with exclusive(database.file, "serve"):
            require_current(database, owners)
            warn_of_open_host(host, present)
            warn_of_old_sqlite(database)
            warn_of_a_full_disk(database)
            with bind(host, port) as listener:
                said = f"Sparewell listens on {address(host, listener.getsockname()[1])}"

                def announce() -> None:
                    click.echo(f"{said} (Ctrl-C stops it)")

                if workers == 1:
                    serve(database, declared, present, host, listener, announce)
                else:
                    with Sweeper(database, declared):
                        _supervise(Workers(WORKER_MODULE, [host], listener, workers), announce)
    note("Sparewell has stopped")


def _supervise(workers: Workers, announce: Callable[[], None]) -> None:
    try:
        workers.run(announce)
    except WorkersFailed as error:
        raise Failure(str(error), NO) from error


def serve(
    database: Database,
    declared: Declarations,
    present: Configuration,
    host: str,
    listener: socket,
    on_listening: Callable[[], None],
) -> None:
    """Serve, and sweep beside it, until a signal comes."""
    app = create_app(
        database,
        declared,
        host_names=names_for(host, present.allowed_hosts),
        body_limit_bytes=present.limits_bytes[BODY_LIMIT],
        raw_limits_bytes=present.limits_bytes,
    )
    with Sweeper(database, declared):
        serve_app(
            app,
            listener,
            body_limit_bytes=max(present.limits_bytes.values()),
            on_listening=on_listening,
        )


def address(host: str, port: int) -> str:
    """Return where a client on this machine finds the server."""
    if host in {"0.0.0.0", ""}:  # noqa: S104 - compared with, not bound to
        host = DEFAULT_HOST
    elif host == "::":
        host = "::1"
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def warn_of_open_host(host: str, present: Configuration) -> None:
    """Say what listening beyond this machine means."""
    if is_loopback(host):
        return
    note(f"{host} can be reached from other machines: tokens travel in the clear over plain HTTP")
    if not present.allowed_hosts:
        note(
            "SPAREWELL_ALLOWED_HOSTS is not set: requests that call the server by any name but "
            f"{', '.join(sorted(names_for(host, ())))} are refused"
        )


def warn_of_a_full_disk(database: Database) -> None:
    """Say so when an embedded database has hardly any room left."""
    if database.file is not None and database.is_short_of_room:
        note(f"the disk under {database.file.parent} is nearly full: writes will soon be refused")


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches what listens there."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"
