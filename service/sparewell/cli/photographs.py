"""`sparewell photograph`: pictures of pens and donors."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import IO, Any

import click

from sparewell.cli.answers import columns
from sparewell.cli.asking import LARGEST_PAGE, address_of, echo_json, json_option
from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, configuration
from sparewell.database.numbers import DONOR_PREFIX

_BYTES_PER_KILOBYTE = 1024


@click.group()
def command() -> None:
    """Keep photographs of a pen or a donor, and list them.

    \b
    Example: sparewell photograph add PEN-0001 cap-band.jpg --note "the crack before the repair"
             sparewell photograph list PEN-0001
    """  # noqa: D301 - click reads the backspace as "keep these lines"


@command.command(epilog=EXIT_STATUSES)
@click.argument("number", metavar="PEN")
@click.argument("file", type=click.File("rb"))
@click.option("--note", default="", help="What is to be seen on it.")
@click.option(
    "--taken-on", type=click.DateTime(["%Y-%m-%d"]), help="The day on which it was taken."
)
@json_option("what is known of the photograph")
def add(
    number: str,
    file: IO[bytes],
    note: str,
    taken_on: datetime | None,
    as_json: bool,  # noqa: FBT001 - click calls it so
) -> None:
    """Keep the photograph in FILE with a pen, or with a donor.

    PEN is a number such as PEN-0001 or DON-0001; FILE is a JPEG, PNG or WebP, - is the standard
    input. Where and with what it was taken is not kept, nor anything else that is no picture.

    Example: sparewell photograph add PEN-0001 cap-band.jpg --note "the crack before the repair"
    """
    query = {"note": note} if note else {}
    query |= {"taken_on": f"{taken_on:%Y-%m-%d}"} if taken_on else {}
    kept = Client(configuration()).post_file(_address(number), file.read(), query).body
    if as_json:
        echo_json(kept)
    else:
        click.echo(f"Photograph {kept['id']} of {number}: {_described(kept)}")


@command.command("list", epilog=EXIT_STATUSES)
@click.argument("number", metavar="PEN")
@json_option("what is known of the photographs")
def list_all(number: str, as_json: bool) -> None:  # noqa: FBT001 - click calls it so
    """List the photographs of a pen or a donor, with their addresses.

    Example: sparewell photograph list PEN-0001
    """
    found = Client(configuration()).every(_address(number), "photographs", {"limit": LARGEST_PAGE})
    kept = list(found)
    if as_json:
        echo_json(kept)
    elif kept:
        rows = [(str(each["id"]), each["image"], _described(each), each["note"]) for each in kept]
        click.echo("\n".join(columns(rows)))
    else:
        click.echo(f"There is no photograph of {number}.")


def _address(number: str) -> str:
    """Return where the photographs of a pen or a donor are."""
    plural = "donors" if number.startswith(f"{DONOR_PREFIX}-") else "pens"
    return address_of(plural, number, "photographs")


def _described(kept: Mapping[str, Any]) -> str:
    form = kept["media_type"].removeprefix("image/").upper()
    kilobytes = max(1, round(kept["size_bytes"] / _BYTES_PER_KILOBYTE))
    taken = f", taken on {kept['taken_on']}" if kept["taken_on"] else ""
    return f"{form}, {kept['width_pixels']} by {kept['height_pixels']}, {kilobytes} KiB{taken}"
