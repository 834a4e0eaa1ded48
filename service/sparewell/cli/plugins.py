"""`sparewell plugins`: what was found, and what became of it."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from sparewell.cli.failures import configuration
from sparewell.cli.local import declarations, told_plainly


@click.command(
    epilog="Exit status: 0 all are well; 1 one cannot be loaded, and is named; 2 wrong usage."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(*, as_json: bool) -> None:
    """List the plugins, loaded and skipped.

    Each comes with what it brings. A plugin that cannot be loaded stops the server;
    SPAREWELL_SKIP_PLUGINS leaves it out.

    \b
    Example: SPAREWELL_SKIP_PLUGINS=springs sparewell plugins
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    with told_plainly():
        records = declarations(configuration()).plugins
    if as_json:
        rows = [asdict(record) for record in records]
        click.echo(json.dumps({"plugins": rows}, ensure_ascii=False))
        return
    for record in records:
        brings = ", ".join(hook.replace("_", " ") for hook in record.hooks)
        click.echo(
            f"{record.name}: {record.state}, from {record.distribution} {record.version}"
            + (f"; {brings}" if brings else "")
        )
