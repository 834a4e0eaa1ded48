"""What the commands that ask a server about pieces have in common: lengths, JSON, addresses."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import quote

import click

from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.length import (
    LONGEST_NANOMETRES,
    LengthError,
    length_text,
    parse_length,
)

LARGEST_PAGE = "500"


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


def dimension_options(function: Callable[..., None]) -> Callable[..., None]:
    """Add an option for every dimension of the vocabulary, and how far each may be off."""
    function = click.option(
        "--tolerance",
        type=LengthOption(zero_allowed=True),
        help="How far each dimension may be off, either way; nothing where it is left out.",
    )(function)
    for name, title in reversed(list(DIMENSIONS.items())):
        flag = f"--{name.replace('_', '-')}"
        function = click.option(flag, name, type=LengthOption(), help=title.capitalize() + ".")(
            function
        )
    return function


def json_option(what: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return the option that prints JSON instead of lines to read."""
    return click.option("--json", "as_json", is_flag=True, help=f"Print {what} as JSON.")


def number_option(what: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return the option that prints a number alone, for a script to keep."""
    return click.option("--number", "alone", is_flag=True, help=f"Print {what} alone.")


def named_values(option: str, texts: Iterable[str], example: str) -> dict[str, str]:
    """Return what was given as NAME=VALUE, by name; a name given twice is wrong usage."""
    found: dict[str, str] = {}
    for text in texts:
        name, is_pair, value = (each.strip() for each in text.partition("="))
        if not (name and is_pair and value):
            raise click.UsageError(f"{option} {text!r}: give {example}")
        name = name.replace("-", "_").replace(" ", "_")
        if name in found:
            raise click.UsageError(f"{option}: {name} is given twice")
        found[name] = value
    return found


def given(**said: Any) -> dict[str, Any]:
    """Return what was said, without what was left out."""
    return {name: value for name, value in said.items() if value not in (None, (), "")}


def spoken(name: str) -> str:
    """Return a name as people say it: "inner cap" for inner_cap."""
    return name.replace("_", " ")


def wanted_lengths(
    context: click.Context, dimensions: Mapping[str, int | None], tolerance: int | None
) -> dict[str, int]:
    """Return the dimensions that were given; a tolerance without any is wrong usage."""
    wanted = {name: length for name, length in dimensions.items() if length is not None}
    if tolerance is not None and not wanted:
        raise click.UsageError("--tolerance needs a dimension to which it applies", context)
    return wanted


def bounds(wanted: Mapping[str, int], tolerance: int | None) -> dict[str, str]:
    """Return the ranges as the query says them; an end past what a length can be is left open."""
    query: dict[str, str] = {}
    for name, length in wanted.items():
        low, high = length - (tolerance or 0), length + (tolerance or 0)
        ends = {f"{name}_min": length_text(low)} if low > 0 else {}
        # A piece without the dimension is found by neither end, so one of them has to be there.
        if high <= LONGEST_NANOMETRES or not ends:
            ends[f"{name}_max"] = length_text(min(high, LONGEST_NANOMETRES))
        query |= ends
    return query


def measured_text(lot: Mapping[str, Any], names: Iterable[str]) -> str:
    """Return the named dimensions of a lot, with where each is from."""
    return ", ".join(
        f"{name.replace('_', ' ')} {number_text(lot['dimensions'][name])} mm "
        f"({lot['basis'].get(name, 'unknown')})"
        for name in names
    )


def number_text(value: Any) -> str:
    """Return a figure as it came, without an exponent."""
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def echo_json(document: Any) -> None:
    """Print a document as JSON."""
    click.echo(json.dumps(document, default=plain_number, ensure_ascii=False))


def plain_number(value: object) -> float:
    """Return a number for JSON; a length has so few digits that a float gives them back."""
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(type(value).__name__)


def address_of(plural: str, key: str, *rest: str) -> str:
    """Return the address of a resource, whatever characters its number has."""
    return "/".join(("/v1", plural, quote(key, safe=""), *rest))
