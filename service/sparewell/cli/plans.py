"""`sparewell job plan` and `reserve`: what a job can have, and promising it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import click

from sparewell.cli.asking import address_of, echo_json, given, json_option, spoken
from sparewell.cli.client import Client
from sparewell.cli.failures import DONE, EXIT_STATUSES, NO, configuration
from sparewell.cli.promises import moved_line, promise_line

MOST_PIECES = 1_000_000


@click.command(
    epilog="Exit status: 0 everything that must be had is in hand or promised, or would be by "
    "promises of yours that move aside; 1 something is "
    "short, or there is no such job; 2 wrong usage; 3 the server cannot be reached, or does not "
    "let you in."
)
@click.argument("number")
@json_option("the plan")
@click.pass_context
def plan(context: click.Context, *, number: str, as_json: bool) -> None:
    """Work out which pieces a job can have, what is short, and what to mind. Takes nothing.

    Example: sparewell job plan JOB-0001 && sparewell job reserve JOB-0001
    """
    found = Client(configuration()).get(address_of("jobs", number, "plan")).body
    if as_json:
        echo_json(found)
    else:
        click.echo("\n".join(_plan_lines(found)))
    context.exit(DONE if found["complete"] or found["would_move"] else NO)


@click.command(epilog=EXIT_STATUSES)
@click.argument("number")
@click.option("--lot", type=click.IntRange(1), help="Take pieces of this lot, not the best set.")
@click.option("--quantity", type=click.IntRange(1, MOST_PIECES), help="How many of the lot.")
@click.option("--need", type=click.IntRange(1), help="For this need, by the number in the plan.")
@click.option("--override", metavar="WHY", help="Why the lot is taken although it is refused.")
@click.option(
    "--move",
    type=click.Choice(["mine", "any", "none"]),
    default="mine",
    show_default=True,
    help="Whose promises may move to other pieces that fit no worse.",
)
@click.option("--note", default="", help="A note.")
@json_option("what was reserved")
def reserve(*, number: str, as_json: bool, move: str, **said: Any) -> None:
    """Promise pieces to a job: the best set for all its open needs, or pieces of one lot.

    All of it is promised, or nothing.

    \b
    Example: sparewell job reserve JOB-0001
             sparewell job reserve JOB-0001 --lot 7 --quantity 2
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    body = given(**said) | {"move": False if move == "none" else move}
    if "lot" not in body and not body.keys().isdisjoint({"quantity", "need", "override"}):
        raise click.UsageError("--quantity, --need and --override go with --lot")
    made = Client(configuration()).post(address_of("jobs", number, "reservations"), body).body
    if as_json:
        echo_json(made)
    else:
        lines = [promise_line(each) for each in made["reservations"]]
        lines += [moved_line(each) for each in made["moved"]]
        click.echo("\n".join([*lines, *(f"Mind: {sentence}" for sentence in made["warnings"])]))


def _plan_lines(found: Mapping[str, Any]) -> Iterator[str]:
    yield f"{found['job']}: {'complete' if found['complete'] else 'not complete'}"
    for each in found["would_move"]:
        yield f"  complete with what {each['job']} has: it takes lot {each['to_lot']} instead"
    for need in found["needs"]:
        yield from _need_lines(need)
    if found["cautions"]:
        yield "Mind:"
        yield from (f"  - {each['caution']}" for each in found["cautions"])


def _need_lines(need: Mapping[str, Any]) -> Iterator[str]:
    stands = need["state"] + (", optional" if need["optional"] else "")
    yield f"  need {need['id']}: {need['quantity']} {spoken(need['kind'])}: {stands}"
    seen = {each["lot"]: each for each in need["candidates"]}
    for taking in need["best"]:
        line = f"    take {taking['quantity']} of lot {taking['lot']}"
        piece = seen.get(taking["lot"])
        yield f"{line} in {_piece_text(piece)}" if piece else line
    if need["short"]:
        yield f"    short by {need['short']}" + (f": {need['problem']}" if need["problem"] else "")
    if need["missing"]:
        yield f"    measure first: {', '.join(map(spoken, need['missing']))}"
    if need["recommendation"]:
        yield f"    look for {need['recommendation']['look_for']}"
    for each in need["to_make"]:
        yield f"    make from lot {each['lot']} in {each['place']}: {each['says']}"
    for each in need["to_order"]:
        yield f"    order {each['quantity']}: {each['ask_for']}"
    yield from (f"    mind: {sentence}" for sentence in need["warnings"])


def _piece_text(piece: Mapping[str, Any]) -> str:
    name = piece["part"] or spoken(piece["kind"])
    return f"{piece['place']} ({name}): {spoken(piece['verdict'])}, {piece['why']}"
