"""`sparewell filling-system`: shows a filling system, and adds one of the workshop's own."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import IO, Any
from urllib.parse import quote

import click

from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, WRONG_USAGE, Failure, configuration

PATH = "/v1/filling-systems"
# What the server says of a system beside what was written: not to be sent back.
_SAID_BY_THE_SERVER = ("origin", "retired", "retired_at", "actor", "person", "changed_at")


@click.group()
def command() -> None:
    """Show a filling system, or add one of your own.

    One of your own begins as a copy of one that is there: its name has to be another, and whatever
    is different is changed.

    \b
    Example: sparewell filling-system show lever > mine.json
             sparewell filling-system add mine.json
    """  # noqa: D301 - click reads the backspace as "keep these lines"


@command.command(epilog=EXIT_STATUSES)
@click.argument("name")
def show(name: str) -> None:
    """Print a filling system as JSON, so that it can be copied, changed and added.

    Example: sparewell filling-system show lever
    """
    found = Client(configuration()).get(f"{PATH}/{quote(name, safe='')}").body
    document = {key: value for key, value in found.items() if key not in _SAID_BY_THE_SERVER}
    click.echo(json.dumps(document, default=_plain_number, indent=2, ensure_ascii=False))


@command.command(epilog=EXIT_STATUSES)
@click.argument("file", type=click.File(encoding="utf-8"))
def add(file: IO[str]) -> None:
    """Add the filling system in FILE to the workshop's own.

    FILE holds JSON as `show` prints it; - is the standard input.

    Example: sparewell filling-system add mine.json
    """
    document = _document_in(file)
    made = Client(configuration()).post(PATH, document).body
    kinds = ", ".join(str(need["kind"]) for need in made["needs"])
    click.echo(f"Added {made['name']}: {made['title']}; it needs {kinds}.")


def _document_in(file: IO[str]) -> dict[str, Any]:
    try:
        document = json.load(file)
    except UnicodeDecodeError as error:
        raise Failure(f"{file.name} is not text in UTF-8", WRONG_USAGE) from error
    except (ValueError, RecursionError) as error:
        raise Failure(f"{file.name} is not JSON: {error}", WRONG_USAGE) from error
    if not isinstance(document, dict):
        raise Failure(
            f"{file.name} must hold one object, as `sparewell filling-system show` prints it",
            WRONG_USAGE,
        )
    return document


def _plain_number(value: object) -> float:
    """Return a figure for JSON; it has so few digits that a float gives them back."""
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(type(value).__name__)
