"""`sparewell tonight`: which pens can be finished, what the others wait for, and what to order."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import click

from sparewell.cli.asking import echo_json, json_option
from sparewell.cli.client import Client
from sparewell.cli.failures import DONE, NO, Failure, configuration, note
from sparewell.cli.promises import moved_line

_SECONDS_BETWEEN_LOOKS: Final = 0.2
_LONGEST_SECONDS: Final = 180
_LISTS: Final = (
    ("waiting_for_reading", "Waits for a reading"),
    ("waiting_for_part", "Waits for a part"),
    ("waiting_for_decision", "Waits for a decision"),
    ("waiting_for_owner", "Waits for the owner"),
)


@click.command(
    epilog="Exit status: 0 a pen can be finished; 1 none can, or reserving was refused; "
    "2 wrong usage; 3 the server cannot be reached, or does not let you in."
)
@click.option("--reserve", is_flag=True, help="Promise the whole evening, all of it or nothing.")
@click.option(
    "--weight",
    type=click.Choice(["count", "promised", "value"]),
    default="promised",
    show_default=True,
    help="What comes first: many pens, those promised for a day, or those of the highest value.",
)
@click.option("--minutes", type=click.IntRange(0), help="How long the evening is, by hand.")
@click.option(
    "--move",
    type=click.Choice(["mine", "any", "none"]),
    default="mine",
    show_default=True,
    help="Whose promises may move to other pieces that fit no worse.",
)
@json_option("the evening")
@click.pass_context
def command(
    context: click.Context,
    *,
    reserve: bool,
    weight: str,
    minutes: int | None,
    move: str,
    as_json: bool,
) -> None:
    """Tell which pens can be finished tonight with what lies in the drawers.

    All open jobs are looked at together, so that no piece is counted on twice. For the others it
    says what each waits for, and which few parts finish most of them.

    Example: sparewell tonight --minutes 120 --reserve
    """
    client = Client(configuration())
    asked: dict[str, Any] = {"weight": weight, "move": False if move == "none" else move}
    if minutes is not None:
        asked["minutes"] = minutes
    found = _worked_out(client, asked)
    made = None
    if reserve and any(each["takes"] for each in found["finishable"]):
        made = client.post("/v1/tonight/reservations", {"plan": found["plan"]}).body
    if as_json:
        echo_json(found if not reserve else {"tonight": found, "reserved": made})
    else:
        click.echo("\n".join(_lines(found)))
        if reserve:
            click.echo(_reserved(made))
    context.exit(DONE if found["finishable"] else NO)


def _worked_out(client: Client, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Have the evening worked out, and show on standard error that it goes on."""
    address = f"/v1/evenings/{client.post('/v1/evenings', asked).body['plan']}"
    label = "Sharing the pieces out"
    with click.progressbar(length=_LONGEST_SECONDS, label=label, file=sys.stderr) as bar:
        began = time.monotonic()
        while True:
            kept = client.get(address).body
            if kept["state"] != "working":
                bar.update(_LONGEST_SECONDS - bar.pos)
                break
            passed = int(time.monotonic() - began)
            if passed > _LONGEST_SECONDS:
                raise Failure(f"{address} is not ready after {passed} seconds", NO)
            bar.update(passed - bar.pos)
            time.sleep(_SECONDS_BETWEEN_LOOKS)
    if kept["state"] == "failed":
        raise Failure(kept["why"], NO)
    return dict(kept["tonight"])


def _reserved(made: Mapping[str, Any] | None) -> str:
    if made is None:
        return "\nNothing was left to reserve."
    told = f"\nReserved {len(made['reservations'])} for {', '.join(made['jobs'])}."
    for row in made["moved"]:
        told += f"\n  {moved_line(row)}"
    return told


def _lines(found: Mapping[str, Any]) -> Iterator[str]:
    yield _title("Can be finished", found["finishable"])
    for each in found["finishable"]:
        yield from _finishable(each)
    if found["not_tonight"]:
        yield _title("No time left", found["not_tonight"])
        yield from (f"  {each['job']}  {each['called']}" for each in found["not_tonight"])
    for name, title in _LISTS:
        if found[name]:
            yield _title(title, found[name])
            yield from _waiting(found[name])
    yield from _walk(found["walk"])
    if found["order"]:
        yield from _order(found["order"], found["to_order"])
    if not found["proven"]:
        note(f"this may not be the best there is: {found['how']}")


def _finishable(each: Mapping[str, Any]) -> Iterator[str]:
    yield f"  {each['job']}  {each['called']}"
    for take in each["takes"]:
        yield f"    {take['quantity']} {take['part'] or take['kind']} from {take['place']}"
        for row in take["settles"]:
            yield f"      for which {row['job']} takes lot {row['to_lot']}, not lot {row['lot']}"
    if each["holds"] and not each["takes"]:
        yield "    has all its pieces"
    if each["waits_for"]:
        yield f"    {each['hands_on_minutes']} minutes by hand, then {each['waits_for']}"


def _walk(stops: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    if stops:
        yield "Along the drawers:"
    for stop in stops:
        pieces = (
            f"{each['quantity']} of lot {each['lot']} for {each['job']}" for each in stop["pieces"]
        )
        yield f"  {stop['place']}: {', '.join(pieces)}"


def _title(title: str, rows: Sequence[Any]) -> str:
    return f"{title}: {len(rows) or 'none'}"


def _waiting(rows: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    for each in rows:
        yield f"  {each['job']}  {each['called']}"
        for wait in each["waits"]:
            readings = ", ".join(reading["name"].replace("_", " ") for reading in wait["readings"])
            yield f"    {wait['why']}" + (f": {readings}" if readings else "")
        for short in each["short"]:
            yield f"    lacks {short['quantity']} {short['kind'].replace('_', ' ')}: {short['why']}"


def _order(order: Mapping[str, Any], lines: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    for each in order["to_make"]:
        yield f"To make for {each['job']}: {each['made']['says']}"
    if lines:
        yield f"To order: {order['total']} in all"
        for line in lines:
            yield f"  {line['quantity']} of {line['part']} ({line['cost']})"
        for step, rung in enumerate(order["ladder"]):
            which = "the first" if step == 0 else "the next"
            yield f"  {which} {rung['cost']} finish {', '.join(rung['jobs'])}"
    for each in order["unsold"]:
        what = f"{each['quantity']} {each['kind'].replace('_', ' ')} for {each['job']}"
        if each["ask_for"]:
            yield f"Nobody is known to sell {what}: ask for {each['ask_for'][0]}"
        else:
            yield f"Nothing that is made would do as {what}: its plan says why"
