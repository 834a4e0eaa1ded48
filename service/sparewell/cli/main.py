"""The command line. Each command is imported when it is called, so that none waits for another's.

The commands that ask a server import neither Flask nor SQLAlchemy; a test holds them to it.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Final, NamedTuple

import click

from sparewell.cli.failures import EXIT_STATUSES


class Entry(NamedTuple):
    """Where a command is written, and the sentence that says what it is for."""

    module: str
    short_help: str


COMMANDS: Final[Mapping[str, Entry]] = {
    "demo": Entry("demo", "Try Sparewell out: a server with a demo workshop, gone afterwards."),
    "migrate": Entry("migrate", "Make the tables, or bring them up to this program."),
    "token": Entry("tokens", "Make, list and revoke the keys to the service."),
    "serve": Entry("serve", "Serve the API from the database."),
    "audit": Entry("audit", "Recompute every balance from the ledger and compare."),
    "backup": Entry("backup", "Write a backup, beside a running server: one SQLite file."),
    "restore": Entry("restore", "Put a backup in the place of the database."),
    "move": Entry("move", "Move an SQLite database to PostgreSQL."),
    "plugins": Entry("plugins", "List the plugins, loaded and skipped."),
    "size": Entry("size", "Ask the server which size fits a measured pen."),
    "fit": Entry(
        "fit", "Ask the server which pieces in hand fit a measured pen, and where they lie."
    ),
    "stock": Entry("stock", "Ask the server what is in the drawers."),
    "tonight": Entry(
        "tonight", "Tell which pens can be finished tonight with what lies in the drawers."
    ),
    "lot": Entry("lots", "Take pieces into a drawer, move them, cut them."),
    "pen": Entry("pens", "Bring a pen to the bench, measure it, show it."),
    "job": Entry(
        "jobs",
        "Repair a pen: plan what it needs, reserve, fetch and use the pieces, close the job.",
    ),
    "reorder": Entry("reorder", "Ask the server what must be ordered."),
    "donor": Entry("donors", "Keep pens to be stripped, find what is still in them, take it out."),
    "count": Entry("counting", "Print what should lie in a drawer, or set it to what was counted."),
    "waiting": Entry(
        "waiting",
        "Tell which jobs wait for something to set or dry, until when, and which are ready.",
    ),
    "photograph": Entry("photographs", "Keep photographs of a pen or a donor, and list them."),
    "import": Entry(
        "imports", "Bring a notebook in from a table, or everything from one JSON file."
    ),
    "export": Entry("exports", "Take everything out: lists as CSV, and one JSON file of it all."),
    "filling-system": Entry("filling_systems", "Show a filling system, or add one of your own."),
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and imports one when it is called."""

    def list_commands(self, _context: click.Context) -> list[str]:
        """Return the names in the order in which they come in use."""
        return list(COMMANDS)

    def get_command(self, _context: click.Context, name: str) -> click.Command | None:
        """Import a command."""
        place = COMMANDS.get(name)
        if place is None:
            return None
        command = import_module(f"sparewell.cli.{place.module}").command
        assert isinstance(command, click.Command)  # noqa: S101 - each module holds one
        return command

    def format_commands(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, place.short_help) for name, place in COMMANDS.items()])


def _show_version(context: click.Context, _option: click.Parameter, wanted: bool) -> None:  # noqa: FBT001 - click calls it so
    if wanted:
        from importlib import metadata  # noqa: PLC0415 - slower than all the rest of the overview

        click.echo(f"sparewell {metadata.version('sparewell')}")
        context.exit()


@click.group(
    cls=LazyGroup,
    epilog=f"{EXIT_STATUSES} SPAREWELL_URL and SPAREWELL_TOKEN tell size, fit, stock, lot, pen, "
    "job, donor, count, waiting, tonight, reorder, photograph, import, export and filling-system "
    "which server to ask; SPAREWELL_DATABASE_URL tells the others which database to use.",
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Print the version.",
)
def group() -> None:
    """Sparewell: parts and spares for the restoration of vintage fountain pens.

    \b
    A first look:      sparewell demo
    A workshop of
    your own:          sparewell migrate
                       sparewell token new bench --scope write
                       sparewell serve
    """  # noqa: D301 - click reads the backspace as "keep these lines"


def main() -> None:
    """Run the command line; the entry point of the program."""
    group(prog_name="sparewell")


if __name__ == "__main__":
    main()
