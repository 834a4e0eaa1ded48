"""`sparewell demo`: a workshop to try things out in, gone when it ends.

The phases: the port is taken, so that a taken one is heard at once; the database is made in a
temporary folder and filled; the server starts; beside it the main job is run over the API, and
what to try is printed; a signal ends it, and the folder goes.
"""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType
from typing import Final

import click

from sparewell.app.log import kept_log
from sparewell.app.owners import owners_of_tables
from sparewell.app.server import bind
from sparewell.cli.answers import fit_lines
from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, Failure, configuration, note
from sparewell.cli.local import declarations, opened, told_plainly
from sparewell.cli.serve import (
    address,
    host_option,
    port_option,
    serve,
    warn_of_open_host,
)
from sparewell.configuration import Configuration
from sparewell.database.engine import Database
from sparewell.database.migrate import upgrade
from sparewell.database.transaction import write
from sparewell.edge.context import utc_now
from sparewell.edge.tokens import new_token
from sparewell.extend.host import Declarations

PEN: Final[Mapping[str, str]] = {
    "barrel_bore": "8.0 mm",
    "bar_height": "0.9 mm",
    "nipple_diameter": "6.4 mm",
    "barrel_depth": "62 mm",
}
KEY_NAME = "demo"
MOST_CANDIDATES = 3
MOST_REFUSED = 2
_SIGNALS = (signal.SIGTERM, signal.SIGHUP)
_SIGNAL_BASE = 128


@click.command(epilog=EXIT_STATUSES)
@host_option
@port_option
def command(host: str, port: int) -> None:
    """Try Sparewell out: a server with a demo workshop, gone afterwards.

    It makes a fresh database in a temporary folder, fills it, prints the address, a token and
    things to try, and serves until Ctrl-C. Your own database is not touched.

    \b
    Example: sparewell demo --port 0
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    present = configuration()
    ending = _Ending()
    with (
        kept_log(present.log_level),
        ending.heard(),
        told_plainly(),
        bind(host, port) as listener,
        TemporaryDirectory(prefix="sparewell-demo-", ignore_cleanup_errors=True) as folder,
        opened(f"sqlite:///{Path(folder) / 'demo.sqlite3'}") as database,
    ):
        declared = declarations(present)
        note(f"The demo workshop is in {folder}; it is gone when this ends")
        token = _fill(database, declared, ending)
        warn_of_open_host(host, present)

        def on_listening() -> None:
            ending.heed()
            url = address(host, listener.getsockname()[1])
            click.echo(f"\nSparewell listens on {url}\nToken: {token}\n")
            threading.Thread(target=_show, args=(present, url, token), daemon=True).start()

        serve(database, declared, present, host, listener, on_listening)
    note("The demo workshop is gone")


def _fill(database: Database, declared: Declarations, ending: _Ending) -> str:
    """Make the tables, the workshop and an admin token; return the token."""
    # The workshop's data are read only here: no other command needs them.
    from sparewell_demo_seed.loader import load_workshop  # noqa: PLC0415

    ending.heed()
    upgrade(database, owners_of_tables(declared))
    with click.progressbar(
        length=1, label="Filling the drawers", file=sys.stderr, item_show_func=_shown
    ) as bar:

        def progress(done: int, total: int, what: str) -> None:
            bar.length = total
            bar.update(done - bar.pos, what)
            ending.heed()

        load_workshop(database, declared, utc_now(), progress=progress)
    token = write(database, lambda session: new_token(session, KEY_NAME, "admin", utc_now()))
    ending.heed()
    return token


def _shown(what: str | None) -> str:
    return what or ""


def _show(present: Configuration, url: str, token: str) -> None:
    """Run the main job over the API, changing nothing, and say what to try next."""
    try:
        body = (
            Client(replace(present, url=url, token=token))
            .post("/v1/fits/sac", {**PEN, "limit": MOST_CANDIDATES})
            .body
        )
    except Failure as failure:
        note(f"sparewell: {failure.message}")
        return
    measured = ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in PEN.items())
    lines = [
        "The main job, run just now: a lever-filler wants a new sac.",
        f"Measured: {measured}",
        "",
        *fit_lines({**body, "refused": body["refused"][:MOST_REFUSED]}, working=False),
        "",
        "Three things to try in another window:",
        *_things_to_try(url, token),
        "",
        f"The bench page is at {url}: sign in with the token. The whole API is at {url}/docs.",
        "Ctrl-C stops the demo.",
    ]
    click.echo("\n".join(lines))


def _things_to_try(url: str, token: str) -> Iterator[str]:
    options = " ".join(f"--{name.replace('_', '-')} '{value}'" for name, value in PEN.items())
    yield f"  export SPAREWELL_URL={url} SPAREWELL_TOKEN={token}"
    yield f"  1. sparewell fit sac {options}"
    yield f'  2. curl -H "Authorization: Bearer {token}" "{url}/v1/lots?kind=sac&available_min=1"'
    yield f'  3. curl -H "Authorization: Bearer {token}" "{url}/v1/jobs?limit=3"'


class _Ending:
    """Signals that come before the server runs, heeded where nothing is half done.

    An exception out of the handler itself could surface anywhere, even inside a library's clean-up.
    """

    def __init__(self) -> None:
        self._asked: int | None = None

    @contextmanager
    def heard(self) -> Iterator[None]:
        """Note signals for as long as the block lasts."""
        present = {number: signal.getsignal(number) for number in _SIGNALS}
        for number, handler in present.items():
            if handler is not signal.SIG_IGN:
                signal.signal(number, self._note)
        try:
            yield
        finally:
            for number, handler in present.items():
                signal.signal(number, handler)

    def heed(self) -> None:
        """End here, everything unwound, if a signal has come."""
        if self._asked is not None:
            sys.exit(_SIGNAL_BASE + self._asked)

    def _note(self, number: int, _frame: FrameType | None) -> None:
        self._asked = number
