"""`sparewell reorder`: what is to be ordered, for scripts and for people."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import click

from sparewell.cli.client import Client
from sparewell.cli.failures import DONE, NO, configuration, note

LARGEST_PAGE = "500"


@click.command(
    epilog="Exit status: 0 nothing is due; 1 something must be ordered, or a part could not be "
    "judged; 2 wrong usage; 3 the server cannot be reached, or does not let you in."
)
@click.option("--all", "everything", is_flag=True, help="List the parts that are not due as well.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
@click.pass_context
def command(context: click.Context, *, everything: bool, as_json: bool) -> None:
    """Ask the server what must be ordered.

    Promises, age and what is on its way are netted. What open jobs lack and the catalogue does not
    have counts as something to order too.

    \b
    Example: sparewell reorder --json > due.json || mail -s "Order parts" me < due.json
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    client = Client(configuration())
    query = {"limit": LARGEST_PAGE} | ({"all": "true"} if everything else {})
    first = client.get("/v1/reorder", query).body
    lines = list(client.every("/v1/reorder", "lines", query))
    unmatched, notes, not_judged = first["unmatched"], first["notes"], first["not_judged"]
    if as_json:
        document = {
            "lines": lines,
            "unmatched": unmatched,
            "not_judged": not_judged,
            "notes": notes,
        }
        click.echo(json.dumps(document, default=_plain_number, ensure_ascii=False))
    else:
        for sentence in notes:
            note(sentence)
        click.echo("\n".join(_lines(lines, unmatched, not_judged)))
    is_due = bool(unmatched or not_judged) or any(line["order_quantity"] > 0 for line in lines)
    context.exit(NO if is_due else DONE)


def _lines(
    lines: Sequence[Mapping[str, Any]], unmatched: Sequence[Mapping[str, Any]], not_judged: int
) -> list[str]:
    due = sum(line["order_quantity"] > 0 for line in lines)
    if not due and not unmatched and not_judged:
        told = [f"nothing else to order; {not_judged} could not be judged"]
    elif not due and unmatched:
        told = [f"nothing of the catalogue to order; {len(unmatched)} lacking"]
    else:
        told = [f"{due} to order" if due else "nothing to order"]
    for line in lines:
        quantity = line["order_quantity"]
        told.append(f"  {f'order {quantity}' if quantity else 'not due'} of {line['part']}")
        told.append(f"    {line['why']}")
    for need in unmatched:
        told.append(f"  {need['job']} lacks {need['short']} {need['kind']}, and no part fits")
        told += [f"    ask for {text}" for text in need["ask_for"]]
    return told


def _plain_number(value: object) -> float:
    """Return a number for JSON; the only ones with decimals are shares of one."""
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(type(value).__name__)
