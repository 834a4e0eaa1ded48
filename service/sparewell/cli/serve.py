"""`sparewell serve`: the API, in one process."""

from __future__ import annotations

import ipaddress
import logging
from collections.abc import Callable
from socket import socket

import click

from sparewell.app.factory import create_app
from sparewell.app.owners import owners_of_tables
from sparewell.app.server import bind, serve_app
from sparewell.app.sweep import Sweeper
from sparewell.cli.failures import configuration, note
from sparewell.cli.local import declarations, is_absent, opened, require_current, told_plainly
from sparewell.configuration import DEFAULT_PORT, Configuration
from sparewell.database.engine import Database
from sparewell.database.lockfile import exclusive
from sparewell.edge.hosts import names_for
from sparewell.extend.host import Declarations

DEFAULT_HOST = "127.0.0.1"
HIGHEST_PORT = 65_535


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
def command(host: str, port: int) -> None:
    """Serve the API from the database.

    It runs until Ctrl-C or SIGTERM, which let requests in flight be answered first. The tables
    have to be there (sparewell migrate), and somebody needs a token (sparewell token new).

    \b
    Example: sparewell serve --port 8417
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    keep_log()
    with told_plainly(), opened(present.database_url) as database:
        declared = declarations(present)
        owners = owners_of_tables(declared)
        if is_absent(database):
            require_current(database, owners)
        with exclusive(database.file, "serve"):
            require_current(database, owners)
            warn_of_open_host(host, present)
            with bind(host, port) as listener:
                serve(
                    database,
                    declared,
                    present,
                    host,
                    listener,
                    lambda _host, port: click.echo(
                        f"Sparewell listens on {address(host, port)} (Ctrl-C stops it)"
                    ),
                )
    note("Sparewell has stopped")


def serve(
    database: Database,
    declared: Declarations,
    present: Configuration,
    host: str,
    listener: socket,
    on_listening: Callable[[str, int], None],
) -> None:
    """Serve, and sweep beside it, until a signal comes."""
    app = create_app(
        database,
        declared,
        host_names=names_for(host, present.allowed_hosts),
        body_limit_bytes=present.body_limit_bytes,
    )
    with Sweeper(database, declared):
        serve_app(
            app,
            listener,
            body_limit_bytes=present.body_limit_bytes,
            on_listening=on_listening,
        )


def keep_log() -> None:
    """Write warnings and errors to standard error, with their time."""
    logging.basicConfig(
        level=logging.WARNING, format="%(asctime)s %(levelname)s %(name)s: %(message)s"
    )
    # A queue of requests is what eight threads are for; it is no news.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)


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


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches what listens there."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"
