"""`sparewell stock`: what is in the drawers, for scripts and for people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import click

from sparewell.cli.asking import (
    LARGEST_PAGE,
    address_of,
    bounds,
    dimension_options,
    echo_json,
    given,
    json_option,
    measured_text,
    wanted_lengths,
)
from sparewell.cli.client import Client, RefusedByServer
from sparewell.cli.failures import (
    DONE,
    NO,
    WRONG_USAGE,
    Failure,
    configuration,
)

MOST_PIECES = 1_000_000
# An offcut is not what its kind says, and nobody knows yet that an unchecked piece is good.
NOT_COUNTED = ("offcut", "unchecked")


@click.group()
def command() -> None:
    """Ask the server what is in the drawers."""


@command.command(
    epilog="Exit status: 0 enough; 1 short; 2 wrong usage; 3 the server cannot be reached, or "
    "does not let you in."
)
@click.option("--kind", help="The kind of part, such as sac.")
@click.option("--part", help="The number of a part; only pieces of it.")
@dimension_options
@click.option("--material", help="Only pieces of this material.")
@click.option("--place", help="Only pieces in this drawer or donor.")
@click.option(
    "--at-least",
    type=click.IntRange(1, MOST_PIECES),
    default=1,
    show_default=True,
    help="How many pieces are wanted, over all lots; promised ones do not count.",
)
@json_option("the count and the lots")
@click.pass_context
def check(
    context: click.Context,
    /,
    kind: str | None,
    part: str | None,
    tolerance: int | None,
    material: str | None,
    place: str | None,
    at_least: int,
    as_json: bool,  # noqa: FBT001 - click calls it so
    **dimensions: int | None,
) -> None:
    """Tell whether enough pieces of a part or a size are free, for a script by the exit status.

    Promised pieces do not count, nor those past the day by which they should be fitted, nor
    offcuts, nor what is in a donor and was not looked at.

    Lengths are millimetres, or carry their unit: 6.35, "1/4 in", "16/64 in", "250 thou".

    \b
    Example: sparewell stock check --kind sac --outside-diameter 6.35 --tolerance 0.1 --at-least 2
             sparewell stock check --part SAC-15-STR --at-least 2
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    if kind is None and part is None:
        raise click.UsageError("give --kind or --part", context)
    wanted = wanted_lengths(context, dimensions, tolerance)
    query = given(kind=kind, part=part, material=material, place=place) | {"available_min": "1"}
    query |= bounds(wanted, tolerance)
    paged = query | {"limit": LARGEST_PAGE}
    client = Client(configuration())
    total = client.get("/v1/lots/total", query).body
    if not total["lots"]:
        _refuse_unknown(client, kind, part)
    available, over_age = total["available"] - total["over_age"], total["over_age"]
    if as_json:
        document = {
            "enough": available >= at_least,
            "available": available,
            "over_age": over_age,
            "at_least": at_least,
            "lots": _counted(client.every("/v1/lots", "lots", paged)),
        }
        echo_json(document)
    else:
        lots = _counted(client.get("/v1/lots", paged).body["lots"])
        lines = _lines(lots, available, at_least, list(wanted))
        if total["lots"] > len(lots):
            lines.append(f"  and {total['lots'] - len(lots)} more lots; --json lists them all")
        click.echo("\n".join(lines))
    context.exit(DONE if available >= at_least else NO)


def _counted(lots: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the lots that the server counts."""
    return [lot for lot in lots if lot.get("condition") not in NOT_COUNTED]


def _refuse_unknown(client: Client, kind: str | None, part: str | None) -> None:
    """Tell a name that there is not from a drawer that is empty."""
    if kind is not None:
        refuse_unknown_kind(client, kind)
    if part is not None:
        try:
            client.get(address_of("parts", part))
        except RefusedByServer as refused:
            if refused.exit_code != NO:
                raise
            raise Failure(refused.message, WRONG_USAGE) from refused


def refuse_unknown_kind(client: Client, kind: str) -> None:
    """Nothing found of a kind that there is not is a slip of the pen, not a short drawer."""
    known = sorted(str(item["name"]) for item in client.every("/v1/kinds", "kinds", {}))
    if kind not in known:
        raise Failure(f"there is no kind {kind!r}; there are {', '.join(known)}", WRONG_USAGE)


def _lines(
    lots: Sequence[Mapping[str, Any]], available: int, at_least: int, wanted: Sequence[str]
) -> list[str]:
    verdict = "enough" if available >= at_least else f"short by {at_least - available}"
    lines = [f"{available} available, {at_least} wanted: {verdict}"]
    for lot in lots:
        measured = measured_text(lot, wanted)
        lines.append(
            f"  lot {lot['id']} in {lot['place']}: {lot['available']} of {_named(lot)}"
            + (f", {measured}" if measured else "")
            + (f", over age since {lot['fit_by']}" if int(lot["over_age"]) else "")
        )
    return lines


def _named(lot: Mapping[str, Any]) -> str:
    """Return what pieces are; those without a part came out of a donor, whose number they keep."""
    if lot["part"]:
        return str(lot["part"])
    origin = f" out of {lot['donor']}" if lot["donor"] not in {None, lot["place"]} else ""
    return f"{lot['kind'].replace('_', ' ')} without a part{origin}"
