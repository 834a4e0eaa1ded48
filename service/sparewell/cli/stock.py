"""`sparewell stock`: what is in the drawers, for scripts and for people."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

import click

from sparewell.cli.client import Client
from sparewell.cli.failures import (
    DONE,
    NO,
    WRONG_USAGE,
    Failure,
    configuration,
)
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.length import (
    LONGEST_NANOMETRES,
    LengthError,
    length_text,
    parse_length,
)

LARGEST_PAGE = "500"
MOST_PIECES = 1_000_000
# An offcut is not what its kind says, and nobody knows yet that an unchecked piece is good.
NOT_COUNTED = ("offcut", "unchecked")


class LengthOption(click.ParamType):  # type: ignore[type-arg] # generic since 8.2
    """A length in any spelling of the bench, as whole nanometres."""

    name = "length"

    def __init__(self, *, zero_allowed: bool = False) -> None:
        self._zero_allowed = zero_allowed

    def convert(
        self, value: Any, parameter: click.Parameter | None, context: click.Context | None
    ) -> int:
        """Return the nanometres, or refuse with the reason."""
        if isinstance(value, int):
            return value
        try:
            return parse_length(value, zero_allowed=self._zero_allowed)
        except LengthError as error:
            self.fail(str(error), parameter, context)


def _dimension_options(function: Callable[..., None]) -> Callable[..., None]:
    """Add an option for every dimension of the vocabulary."""
    for name, title in reversed(list(DIMENSIONS.items())):
        flag = f"--{name.replace('_', '-')}"
        function = click.option(flag, name, type=LengthOption(), help=title.capitalize() + ".")(
            function
        )
    return function


@click.group()
def command() -> None:
    """Ask the server what is in the drawers."""


@command.command(
    epilog="Exit status: 0 enough; 1 short; 2 wrong usage; 3 the server cannot be reached, or "
    "does not let you in."
)
@click.option("--kind", required=True, help="The kind of part, such as sac.")
@_dimension_options
@click.option(
    "--tolerance",
    type=LengthOption(zero_allowed=True),
    help="How far each dimension may be off, either way; nothing where it is left out.",
)
@click.option("--material", help="Only pieces of this material.")
@click.option("--place", help="Only pieces in this drawer or donor.")
@click.option(
    "--at-least",
    type=click.IntRange(1, MOST_PIECES),
    default=1,
    show_default=True,
    help="How many pieces are wanted, over all lots; promised ones do not count.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the count and the lots as JSON.")
@click.pass_context
def check(
    context: click.Context,
    /,
    kind: str,
    tolerance: int | None,
    material: str | None,
    place: str | None,
    at_least: int,
    as_json: bool,  # noqa: FBT001 - click calls it so
    **dimensions: int | None,
) -> None:
    """Tell whether enough pieces of a size are free, for a script by the exit status.

    Promised pieces do not count, nor those past the day by which they should be fitted, nor
    offcuts, nor what is in a donor and was not looked at.

    Lengths are millimetres, or carry their unit: 6.35, "1/4 in", "16/64 in", "250 thou".

    \b
    Example: sparewell stock check --kind sac --outside-diameter 6.35 --tolerance 0.1 --at-least 2
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    wanted = {name: length for name, length in dimensions.items() if length is not None}
    if tolerance is not None and not wanted:
        raise click.UsageError("--tolerance needs a dimension to which it applies", context)
    query = {"kind": kind, "available_min": "1", "limit": LARGEST_PAGE}
    query |= {} if material is None else {"material": material}
    query |= {} if place is None else {"place": place}
    for name, length in wanted.items():
        query |= _bounds(name, length, tolerance or 0)
    client = Client(configuration())
    found = client.every("/v1/lots", "lots", query)
    lots = [lot for lot in found if lot.get("condition") not in NOT_COUNTED]
    if not lots:
        _refuse_unknown_kind(client, kind)
    over_age = sum(int(lot["over_age"]) for lot in lots)
    available = sum(int(lot["available"]) for lot in lots) - over_age
    if as_json:
        document = {
            "enough": available >= at_least,
            "available": available,
            "over_age": over_age,
            "at_least": at_least,
            "lots": lots,
        }
        click.echo(json.dumps(document, default=_plain_number, ensure_ascii=False))
    else:
        click.echo("\n".join(_lines(lots, available, at_least, list(wanted))))
    context.exit(DONE if available >= at_least else NO)


def _bounds(name: str, length: int, tolerance: int) -> dict[str, str]:
    """Return the range as the query says it; an end past what a length can be is left open."""
    low, high = length - tolerance, length + tolerance
    bounds = {f"{name}_min": length_text(low)} if low > 0 else {}
    # A piece without the dimension is found by neither end, so one of them has to be there.
    if high <= LONGEST_NANOMETRES or not bounds:
        bounds[f"{name}_max"] = length_text(min(high, LONGEST_NANOMETRES))
    return bounds


def _refuse_unknown_kind(client: Client, kind: str) -> None:
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
        measured = ", ".join(
            f"{name.replace('_', ' ')} {_number(lot['dimensions'][name])} mm "
            f"({lot['basis'].get(name, 'unknown')})"
            for name in wanted
        )
        lines.append(
            f"  lot {lot['id']} in {lot['place']}: {lot['available']} of {lot['part'] or 'no part'}"
            + (f", {measured}" if measured else "")
            + (f", over age since {lot['fit_by']}" if int(lot["over_age"]) else "")
        )
    return lines


def _number(value: Any) -> str:
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def _plain_number(value: object) -> float:
    """Return a number for JSON; a length has so few digits that a float gives them back."""
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(type(value).__name__)
