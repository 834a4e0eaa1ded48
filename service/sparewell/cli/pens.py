"""`sparewell pen`: bringing a pen to the bench, measuring it, showing it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import click

from sparewell.cli.answers import columns
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
from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, configuration

_BESIDE_A_VALUE = re.compile(r",\s*(instrument|spread)\s*=")
_READING = 'NAME=VALUE, such as barrel_bore="8.0 mm"'


@click.group()
def command() -> None:
    """Bring a pen to the bench, measure it, show it.

    \b
    Example: sparewell pen new --called "olive lever pen" --filling-system lever \\
                 --material celluloid --reading "barrel_bore=8.0 mm"
             sparewell pen read PEN-0001 --reading "bar_height=0.9 mm, instrument=depth gauge"
    """  # noqa: D301 - click reads the backspace as "keep these lines"


@command.command(epilog=EXIT_STATUSES)
@click.option("--called", required=True, help="What people call it.")
@click.option("--filling-system", required=True, help="How it fills, such as lever.")
@click.option("--material", "materials", multiple=True, help="What it is of. May be given again.")
@click.option(
    "--reading",
    "readings",
    multiple=True,
    metavar="NAME=VALUE",
    help='What was measured, such as "barrel_bore=8.0 mm"; ", instrument=…" and ", spread=…" may '
    "follow. May be given again.",
)
@click.option("--owner", default="", help="Whose it is.")
@click.option("--condition", default="", help="How it came.")
@click.option("--model-note", default="", help="Your own note of its model; finds pens alike.")
@click.option("--cost", help="What it cost.")
@click.option("--note", default="", help="A note.")
@number_option("the new pen's number")
@json_option("the pen")
def new(
    *,
    materials: tuple[str, ...],
    readings: tuple[str, ...],
    alone: bool,
    as_json: bool,
    **said: str | None,
) -> None:
    """Put a pen on the bench, with its first readings.

    \b
    Example: sparewell pen new --called "olive lever pen" --filling-system lever \\
                 --reading "barrel_bore=8.0 mm" --reading "nipple_diameter=0.252 in"
    """  # noqa: D301 - as above
    body = {**given(**said), "materials": materials, "readings": _measured(readings)}
    pen = Client(configuration()).post("/v1/pens", body).body
    if alone and not as_json:
        click.echo(pen["number"])
    else:
        _print(pen, as_json=as_json)


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@json_option("the pen")
def show(*, number: str, as_json: bool) -> None:
    """Show a pen and the readings that count.

    Example: sparewell pen show PEN-0001
    """
    _print(Client(configuration()).get(address_of("pens", number)).body, as_json=as_json)


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@click.option(
    "--reading",
    "readings",
    multiple=True,
    required=True,
    metavar="NAME=VALUE",
    help="What was measured, as for `pen new`. May be given again.",
)
@click.option(
    "--corrects",
    type=click.IntRange(1),
    metavar="READING",
    help="The reading that was wrong, by the number that `show` prints.",
)
@click.option("--why", help="Why it was wrong.")
@json_option("the pen")
def read(
    *,
    number: str,
    readings: tuple[str, ...],
    corrects: int | None,
    why: str | None,
    as_json: bool,
) -> None:
    """Add readings to a pen; the earlier ones stay, and the latest of each name counts.

    \b
    Example: sparewell pen read PEN-0001 --reading "barrel_depth=62 mm"
             sparewell pen read PEN-0001 --reading "barrel_bore=8.1 mm" --corrects 4 --why "burr"
    """  # noqa: D301 - as above
    if (corrects is None) is not (why is None):
        raise click.UsageError("--corrects and --why go together")
    body = {"readings": _measured(readings), **given(corrects=corrects, why=why)}
    answer = Client(configuration()).post(address_of("pens", number, "readings"), body)
    _print(answer.body, as_json=as_json)


def _measured(texts: Sequence[str]) -> dict[str, Any]:
    """Return readings by name, each with its instrument and spread where they are said."""
    found: dict[str, Any] = {}
    for name, text in named_values("--reading", texts, _READING).items():
        value, *beside = _BESIDE_A_VALUE.split(text)
        more = dict(zip(beside[::2], (each.strip() for each in beside[1::2]), strict=True))
        found[name] = {"value": value.strip(), **more} if more else value
    return found


def _print(pen: Mapping[str, Any], *, as_json: bool) -> None:
    if as_json:
        echo_json(pen)
    else:
        click.echo("\n".join(_pen_lines(pen)))


def _pen_lines(pen: Mapping[str, Any]) -> Iterator[str]:
    said = [spoken(pen["filling_system"]), ", ".join(pen["materials"]) or "material not known"]
    said += [f"of {pen['owner']}"] if pen["owner"] else []
    said += ["retired"] if pen["retired"] else []
    yield f"{pen['number']}  {pen['called']}  ({'; '.join(said)})"
    rows = [
        (spoken(name), number_text(each["value"]), _how(each), f"reading {each['id']}")
        for name, each in pen["readings"].items()
    ]
    yield from columns(rows) if rows else ["  nothing is measured yet"]
    yield from (f"Mind: {sentence}" for sentence in pen["warnings"])


def _how(reading: Mapping[str, Any]) -> str:
    """Return how a reading was written down and taken."""
    said = [f"as {reading['entered']!r}"]
    said += [f"by {reading['instrument']}"] if reading["instrument"] else []
    if reading["spread"] is not None:
        said.append(f"give or take {number_text(reading['spread'])} mm")
    return ", ".join(said)
