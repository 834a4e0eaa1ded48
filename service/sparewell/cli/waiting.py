"""`sparewell waiting`: what sets, soaks or dries, and what of it is ready."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

import click

from sparewell.cli.answers import columns
from sparewell.cli.asking import LARGEST_PAGE, echo_json, json_option
from sparewell.cli.client import Client
from sparewell.cli.failures import DONE, NO, configuration


@click.command(
    epilog="Exit status: 0 something is ready; 1 nothing is ready; 2 wrong usage; 3 the server "
    "cannot be reached, or does not let you in."
)
@json_option("the timers")
@click.pass_context
def command(context: click.Context, *, as_json: bool) -> None:
    """Tell which jobs wait for something to set or dry, until when, and which are ready.

    Times are those of this machine's clock and zone; what is ready, the server says.

    Example: sparewell waiting && echo "go to the bench"
    """
    client = Client(configuration())
    ready, running = (
        list(client.every("/v1/timers", "timers", {"state": state, "limit": LARGEST_PAGE}))
        for state in ("ready", "running")
    )
    if as_json:
        echo_json({"ready": ready, "running": running})
    else:
        click.echo("\n".join(_lines(ready, running)))
    context.exit(DONE if ready else NO)


def _lines(ready: Sequence[Any], running: Sequence[Any]) -> Iterator[str]:
    if not ready and not running:
        yield "Nothing is waiting."
    for title, word, timers in (("Ready", "since", ready), ("Waiting", "until", running)):
        if timers:
            yield f"{title}:"
            yield from columns([_row(timer, word) for timer in timers])


def _row(timer: Mapping[str, Any], word: str) -> tuple[str, ...]:
    until = datetime.fromisoformat(timer["until"]).astimezone()
    return timer["job"], f"{word} {until:%Y-%m-%d %H:%M}", timer["what"], timer["called"]
