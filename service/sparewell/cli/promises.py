"""`sparewell job fetch`, `use`, `spoil` and `release`: what becomes of promised pieces.

Each takes the number of a reservation or of a job, for all that is still promised to it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import click

from sparewell.cli.asking import (
    LARGEST_PAGE,
    address_of,
    echo_json,
    given,
    json_option,
    spoken,
)
from sparewell.cli.client import Client
from sparewell.cli.failures import EXIT_STATUSES, NO, Failure, configuration

MOST_PIECES = 1_000_000


def _acts_on_promises(function: Callable[..., None]) -> click.Command:
    """Make a command of what acts on a reservation, or on all of a job's."""
    for add in (
        json_option("the reservations"),
        click.option("--note", default="", help="Why, or how it went; kept in the ledger."),
        click.option(
            "--quantity",
            type=click.IntRange(1, MOST_PIECES),
            help="How many pieces of the one reservation; else all that are still promised.",
        ),
        click.argument("what", metavar="RESERVATION|JOB"),
        click.command(epilog=EXIT_STATUSES),
    ):
        function = add(function)
    assert isinstance(function, click.Command)  # noqa: S101 - the last of them made it one
    return function


@_acts_on_promises
def fetch(*, what: str, as_json: bool, **said: Any) -> None:
    """Put promised pieces into the job's tray, where they cannot lapse.

    \b
    Example: sparewell job fetch JOB-0001
             sparewell job fetch 12
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    _act(what, "fetch", said, as_json=as_json)


@_acts_on_promises
@click.option("--glue", help="What they are glued with, where it is not the job's glue.")
def use(*, what: str, as_json: bool, **said: Any) -> None:
    """Fit promised pieces: they leave the stock for good.

    \b
    Example: sparewell job use JOB-0001
             sparewell job use 12 --quantity 1 --note "second coat of shellac"
    """  # noqa: D301 - as above
    _act(what, "use", said, as_json=as_json)


@_acts_on_promises
@click.option("--reserve-next", is_flag=True, help="Reserve the next piece at once.")
def spoil(*, what: str, as_json: bool, **said: Any) -> None:
    """Write off pieces that were ruined at fitting; the need is open again.

    \b
    Example: sparewell job spoil 12 --note "torn on the nipple" --reserve-next
    """  # noqa: D301 - as above
    _act(what, "spoil", said, as_json=as_json)


@_acts_on_promises
def release(*, what: str, as_json: bool, **said: Any) -> None:
    """Give promised pieces up; those in the tray go back to their drawer.

    Example: sparewell job release JOB-0001
    """
    _act(what, "release", said, as_json=as_json)


def promise_line(row: Mapping[str, Any]) -> str:
    """Return how a reservation stands, in a line."""
    ends = {
        end: row[end] for end in ("used", "released", "spoiled", "lapsed", "settled") if row[end]
    }
    said = [f"{count} {end}" for end, count in ends.items()]
    if row["in_tray"]:
        said.append(f"{row['in_tray']} in the tray")
    if row["promised"] > row["in_tray"]:
        said.append(f"{row['promised'] - row['in_tray']} to be fetched")
    return f"reservation {row['id']} of {row['job']}, lot {row['lot']}: {', '.join(said)}"


def moved_line(each: Mapping[str, Any]) -> str:
    """Return which pieces took the place of others, in a line."""
    return (
        f"{each['job']} has lot {each['to_lot']} instead of lot {each['lot']} now: reservation "
        f"{each['moved_to']} in place of {each['reservation']}"
    )


def _act(what: str, verb: str, said: Mapping[str, Any], *, as_json: bool) -> None:
    """Do it to one reservation or to each of a job; what was done is told though one is refused."""
    client, body = Client(configuration()), given(**said)
    is_one = what.isascii() and what.isdecimal()
    if not is_one and "quantity" in body:
        raise click.UsageError("--quantity goes with the number of a reservation")
    ids = [int(what)] if is_one else _promised_to(client, what)
    done: list[Any] = []
    try:
        for row_id in ids:
            answer = client.post(address_of("reservations", str(row_id), verb), body)
            done.append(answer.body)
    finally:
        _print(done, as_json=as_json)


def _promised_to(client: Client, job: str) -> list[int]:
    """Return the reservations of a job that promise something; what is fixed in others follows."""
    number = client.get(address_of("jobs", job)).body["number"]
    query = {"job": number, "limit": LARGEST_PAGE}
    found = [
        row["id"]
        for row in client.every("/v1/reservations", "reservations", query)
        if row["promised"] and row["goes_with"] is None
    ]
    if not found:
        raise Failure(f"nothing is promised to {number}", NO)
    return found


def _print(done: Sequence[Any], *, as_json: bool) -> None:
    if not done:
        return
    if as_json:
        echo_json({"reservations": done})
    else:
        click.echo("\n".join(line for row in done for line in _lines(row)))


def _lines(row: Mapping[str, Any]) -> Iterator[str]:
    yield promise_line(row)
    following = row.get("next")
    if following is None:
        return
    if following["reserved"]:
        yield from (f"  reserved next: {promise_line(each)}" for each in following["reserved"])
    elif following["lacks"]:
        yield f"  {spoken(following['kind'])} lacks {following['lacks']}: {following['why']}"
        for piece in following["pieces"]:
            yield (
                f"  next would be lot {piece['lot']} in {piece['place']}, {piece['available']} "
                f"available: {piece['why']}"
            )
        for each in following["to_order"]:
            yield f"  order {each['quantity']}: {each['ask_for']}"
