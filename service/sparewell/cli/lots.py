"""`sparewell lot`: taking pieces into a drawer, moving them, cutting them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import click

from sparewell.cli.asking import (
    address_of,
    echo_json,
    given,
    json_option,
    named_values,
    number_option,
    number_text,
    spoken,
)
from sparewell.cli.client import Client, RefusedByServer
from sparewell.cli.failures import EXIT_STATUSES, Failure, configuration

MOST_PIECES = 1_000_000


def _acts_on_a_lot(function: Callable[..., None]) -> Callable[..., None]:
    """Add what every act on pieces takes: a note, and promises to give up for it."""
    function = click.option("--note", default="", help="Why; kept in the ledger.")(function)
    return click.option(
        "--release",
        multiple=True,
        type=click.IntRange(1),
        metavar="RESERVATION",
        help="Give this promise up, where pieces are promised. May be given again.",
    )(function)


@click.group()
def command() -> None:
    """Take pieces into a drawer, move them, cut them.

    \b
    Example: sparewell lot add --part SAC-15-STR --drawer A3 --quantity 10
             sparewell lot move 7 --to B1 --quantity 4
             sparewell lot cut 7 --length "62 mm"
    """  # noqa: D301 - click reads the backspace as "keep these lines"


@command.command(epilog=EXIT_STATUSES)
@click.option("--part", required=True, help="The number of its part in the catalogue.")
@click.option("--drawer", required=True, help="The drawer that it goes into.")
@click.option("--quantity", required=True, type=click.IntRange(1, MOST_PIECES), help="How many.")
@click.option(
    "--measured",
    multiple=True,
    metavar="DIMENSION=LENGTH",
    help='What the pieces measure, such as "outside_diameter=5.9 mm". May be given again.',
)
@click.option("--label", help="What the packet says.")
@click.option("--material", help="What they are of, where it differs from the part's.")
@click.option("--made-on", help="When they were made: a day, a month, 2026-Q1 or a year.")
@click.option("--cost", help="What all of them cost.")
@click.option("--note", default="", help="A note.")
@number_option("the number of the new lot")
@json_option("the lot")
def add(*, measured: tuple[str, ...], alone: bool, as_json: bool, **said: Any) -> None:
    """Take pieces in that came together.

    \b
    Example: sparewell lot add --part SAC-15-STR --drawer A3 --quantity 10 \\
                 --measured "outside_diameter=5.9 mm" --made-on 2026-03 --cost 8.50
    """  # noqa: D301 - as above
    example = 'DIMENSION=LENGTH, such as outside_diameter="5.9 mm"'
    lengths = named_values("--measured", measured, example)
    body = given(**said) | ({"measured": lengths} if lengths else {})
    lot = Client(configuration()).post("/v1/lots", body).body
    if as_json:
        echo_json(lot)
    elif alone:
        click.echo(lot["id"])
    else:
        click.echo("\n".join([_line(lot), *(f"Mind: {each}" for each in lot["warnings"])]))


@command.command(epilog=EXIT_STATUSES)
@click.argument("lot", type=click.IntRange(1))
@click.option("--to", "drawer", required=True, help="The drawer that they go into.")
@click.option("--quantity", type=click.IntRange(1, MOST_PIECES), help="How many; else all.")
@_acts_on_a_lot
@json_option("the lot as it lies there")
def move(*, lot: int, as_json: bool, **said: Any) -> None:
    """Move pieces to another drawer; some of a lot become a lot of their own there.

    Example: sparewell lot move 7 --to B1 --quantity 4
    """
    moved = _act(lot, "move", said)
    if as_json:
        echo_json(moved)
    else:
        click.echo(_line(moved))


@command.command(epilog=EXIT_STATUSES)
@click.argument("lot", type=click.IntRange(1))
@click.option("--length", required=True, help='How long they are to be, such as "62 mm".')
@click.option("--quantity", type=click.IntRange(1, MOST_PIECES), help="How many; else one.")
@click.option(
    "--keep-offcut/--no-offcut",
    default=None,
    help="Whether what is left over becomes a lot; else where its length can be known.",
)
@_acts_on_a_lot
@json_option("the lots")
def cut(*, lot: int, as_json: bool, **said: Any) -> None:
    """Cut pieces to a length; they become a lot of their own, and so does what is left over.

    Example: sparewell lot cut 7 --length "62 mm"
    """
    converted = _act(lot, "cut", said)
    if as_json:
        echo_json(converted)
    else:
        click.echo("\n".join(_converted_lines(converted)))


def _act(lot: int, verb: str, said: Mapping[str, Any]) -> Any:
    """Do something to a lot; where pieces of it are promised, say how a promise is given up."""
    try:
        return Client(configuration()).post(address_of("lots", str(lot), verb), given(**said)).body
    except RefusedByServer as refused:
        errors = refused.document.get("errors") or ()
        held = [item["reservation"] for item in errors if "reservation" in item]
        if not held or said["release"]:
            raise
        ways = " ".join(f"--release {reservation}" for reservation in held)
        raise Failure(
            f"{refused.message}\n  to give the promises up: {ways}", refused.exit_code
        ) from refused


def _converted_lines(converted: Mapping[str, Any]) -> Iterator[str]:
    yield "Made:"
    yield from (f"  {_line(each)}" for each in converted["made"])
    yield f"Left: {_line(converted['taken_from'])}"


def _line(lot: Mapping[str, Any]) -> str:
    name = lot["part"] or spoken(lot["kind"])
    said = [spoken(lot["condition"])] if lot["condition"] else []
    said += [f"{spoken(dim)} {number_text(value)} mm" for dim, value in lot["measured"].items()]
    beside = f"  ({', '.join(said)})" if said else ""
    return f"lot {lot['id']} in {lot['place']}: {lot['in_hand']} of {name}{beside}"
