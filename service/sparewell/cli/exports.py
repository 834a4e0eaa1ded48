"""`sparewell export`: takes everything out, to be read elsewhere or brought in again."""

from __future__ import annotations

from pathlib import Path

import click

from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, NO, UNREACHABLE, Failure, configuration

LISTS = (
    *("parts", "drawers", "lots", "movements", "reservations", "donors", "components"),
    *("pens", "purchases", "readings", "jobs", "needs", "outcomes"),
)
EVERYTHING = "everything.json"
# Of a large workshop, the first piece of a list is long in coming.
LONGEST_SECONDS = 120.0
_PARTIAL = ".partial"


@click.command("export", epilog=EXIT_STATUSES)
@click.option(
    "--to",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="The folder to write to; it is made, or has to be empty.",
)
@click.option(
    "--lists-only", is_flag=True, help=f"Leave {EVERYTHING} out, which needs scope admin."
)
def command(folder: Path, *, lists_only: bool) -> None:
    """Take everything out: lists as CSV, and one JSON file of it all.

    The lists are for people and spreadsheets. everything.json holds every row and photograph but
    the keys to the service; sparewell import everything.json fills an empty database from it.

    \b
    Example: sparewell export --to pens-2026-11-25
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    client = Client(configuration(), LONGEST_SECONDS)
    _make(folder)
    for name in LISTS:
        _fetch(client, f"/v1/export/{name}.csv", folder / f"{name}.csv")
    if not lists_only:
        _fetch(client, "/v1/export.json", folder / EVERYTHING)
    click.echo(f"{folder}: {', '.join(sorted(file.name for file in folder.iterdir()))}")


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        is_empty = not any(folder.iterdir())
    except OSError as error:
        raise Failure(f"{folder} cannot be made: {error.strerror}", UNREACHABLE) from error
    if not is_empty:
        raise Failure(f"{folder} is not empty, and is left as it is; give another name", NO)


def _fetch(client: Client, address: str, file: Path) -> None:
    """Write what is at an address; only what is whole is given its name."""
    partial = file.with_name(file.name + _PARTIAL)
    try:
        with partial.open("wb") as out:
            client.download(address, out.write)
        partial.replace(file)
    except OSError as error:
        raise Failure(f"{file} cannot be written: {error.strerror}", UNREACHABLE) from error
    finally:
        partial.unlink(missing_ok=True)
