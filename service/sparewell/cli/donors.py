"""`sparewell donor`: pens kept to be stripped, what is still in them, and taking it out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import click

from sparewell.cli.answers import columns
from sparewell.cli.asking import (
    LARGEST_PAGE,
    address_of,
    bounds,
    dimension_options,
    echo_json,
    json_option,
    measured_text,
    number_text,
    wanted_lengths,
)
from sparewell.cli.client import Client
from sparewell.cli.failures import DONE, EXIT_STATUSES, NO, configuration
from sparewell.cli.stock import refuse_unknown_kind
from sparewell.donors.checklists import holders_first
from sparewell.measure.dimensions import DIMENSIONS

STATES = ("present", "unchecked", "damaged", "missing")
# What may be said of a piece besides what it measures and what its kind describes.
_SAID_OF_ANY = ("material", "note", "colour_note")
_PIECE = re.compile(
    r"\s*(?P<kind>[\w -]+?)(?:\s+in\s+(?P<holder>[\w -]+?))?\s*(?::(?P<said>.*))?", re.DOTALL
)
_BETWEEN_PAIRS = re.compile(r",(?=[^,=]*=)")  # a comma may also be that of "12,6 mm"
_WHOLE_NUMBER = re.compile("[0-9]{1,9}")


@click.group()
def command() -> None:
    """Keep pens to be stripped, find what is still in them, take it out.

    What is in a donor is stock like any other: it is found by its size, and promised to jobs.

    \b
    Example: sparewell donor add "red wreck" --present "cap: thread_diameter=12.6 mm"
             sparewell donor find --kind cap --thread-diameter 12.6 --tolerance 0.2
             sparewell donor strip DON-0001 12 --to A3
    """  # noqa: D301 - click reads the backspace as "keep these lines"


def _piece_option(state: str, what: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    return click.option(
        f"--{state}", state, multiple=True, metavar="PIECE", help=f"{what} May be given again."
    )


@command.command(epilog=EXIT_STATUSES)
@click.argument("called", required=False)
@click.option("--pen", help="Make a donor of this pen, such as PEN-0001, instead of a new one.")
@click.option("--material", "materials", multiple=True, help="What the pen is of.")
@_piece_option("present", "A piece that is there and good.")
@_piece_option("unchecked", "A piece that is there and that nobody has looked at yet.")
@_piece_option("damaged", "A piece that is there and no good.")
@_piece_option("missing", "A piece that is not there.")
@click.option("--note", default="", help="How it is kept: aired, cool, apart from others.")
@json_option("the donor")
def add(
    called: str | None,
    pen: str | None,
    materials: tuple[str, ...],
    note: str,
    as_json: bool,  # noqa: FBT001 - click calls it so
    **pieces: tuple[str, ...],
) -> None:
    """Keep a pen to be stripped, with the list of what it has.

    PIECE is a kind, what it is fixed in, and what is known of it: "feed",
    "clip in cap", "cap: thread_diameter=12.6 mm, thread_starts=3". A piece that is
    fixed in another goes where that one goes, until it is taken out by itself.

    \b
    Example: sparewell donor add "red wreck" --material celluloid --unchecked feed \\
                 --present "cap: thread_diameter=12.6 mm" --present "clip in cap"
             sparewell donor add --pen PEN-0003 --present nib
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    if (called is None) is (pen is None):
        raise click.UsageError("say what the pen is called, or give --pen and its number")
    if pen is not None and materials:
        raise click.UsageError("--material goes with a new one; what a pen is of is known already")
    body: dict[str, Any] = {"components": _components(pieces), "note": note}
    client = Client(configuration())
    if pen is None:
        answer = client.post("/v1/donors", {"called": called, "materials": materials, **body})
    else:
        answer = client.post(address_of("pens", pen, "to-donor"), body)
    _print(answer.body, as_json=as_json)


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@json_option("the donor")
def show(number: str, as_json: bool) -> None:  # noqa: FBT001 - click calls it so
    """Show what a donor has, what of it is promised or gone, and what to mind.

    Example: sparewell donor show DON-0001
    """
    _print(Client(configuration()).get(address_of("donors", number)).body, as_json=as_json)


@command.command(epilog=EXIT_STATUSES)
@click.argument("number")
@click.argument("lots", nargs=-1, required=True, type=click.IntRange(1))
@click.option("--to", "drawer", required=True, help="The drawer that they go into.")
@click.option("--note", default="", help="Why, or how it went.")
@json_option("the lots that were taken out")
def strip(
    number: str,
    lots: tuple[int, ...],
    drawer: str,
    note: str,
    as_json: bool,  # noqa: FBT001 - click calls it so
) -> None:
    """Take pieces out of a donor into a drawer; LOTS are their numbers as `show` prints them.

    What is fixed in a piece comes with it, and every piece keeps the donor's number.

    Example: sparewell donor strip DON-0001 12 --to A3
    """
    body = {"lots": lots, "drawer": drawer, "note": note}
    answer = Client(configuration()).post(address_of("donors", number, "strip"), body)
    if as_json:
        echo_json(answer.body)
        return
    taken = ", ".join(f"lot {lot['id']} ({_spoken(lot['kind'])})" for lot in answer.body["lots"])
    click.echo(f"Taken out of {number} into {drawer}: {taken}")


@command.command(
    epilog="Exit status: 0 found; 1 nothing found; 2 wrong usage; 3 the server cannot be reached, "
    "or does not let you in."
)
@click.option("--kind", required=True, help="The kind of piece, such as clip.")
@dimension_options
@click.option("--material", help="Only pieces of this material.")
@click.option(
    "--attribute",
    "attributes",
    multiple=True,
    metavar="NAME=VALUE",
    help="Only pieces of which this is said, such as thread_starts=3. May be given again.",
)
@json_option("the pieces")
@click.pass_context
def find(
    context: click.Context,
    /,
    kind: str,
    tolerance: int | None,
    material: str | None,
    attributes: tuple[str, ...],
    as_json: bool,  # noqa: FBT001 - click calls it so
    **dimensions: int | None,
) -> None:
    """Find which donors still have a piece of a kind and a size that nobody was promised.

    Where nobody has looked at a piece yet, that is said; pieces of the kind whose size nobody has
    measured are listed apart.

    Example: sparewell donor find --kind cap --thread-diameter 12.6 --tolerance 0.2
    """
    wanted = wanted_lengths(context, dimensions, tolerance)
    query = {"kind": kind, "available_min": "1", "limit": LARGEST_PAGE}
    query |= {} if material is None else {"material": material}
    if attributes:
        query["attributes"] = ",".join(f"{name}:{value}" for name, value in _pairs(attributes))
    client = Client(configuration())
    found = _in_donors(client, query | bounds(wanted, tolerance))
    seen = {lot["id"] for lot in found}
    others = [lot for lot in _in_donors(client, query) if lot["id"] not in seen] if wanted else []
    unmeasured = [lot for lot in others if any(lot["dimensions"].get(n) is None for n in wanted)]
    if not found and not unmeasured:
        refuse_unknown_kind(client, kind)
    if as_json:
        echo_json({"found": found, "not_measured": unmeasured})
    else:
        click.echo("\n".join(_found_lines(kind, found, unmeasured, list(wanted))))
    context.exit(DONE if found else NO)


def _in_donors(client: Client, query: Mapping[str, str]) -> list[Any]:
    """Return the pieces that lie in the donor they came with."""
    lots = client.every("/v1/lots", "lots", query)
    return [lot for lot in lots if lot["donor"] is not None and lot["place"] == lot["donor"]]


def _found_lines(
    kind: str, found: Sequence[Any], unmeasured: Sequence[Any], wanted: Sequence[str]
) -> Iterator[str]:
    yield f"{len(found)} found" if found else f"No donor has such a {_spoken(kind)} to give."
    if found:
        yield from columns([_found_row(lot, wanted) for lot in found])
    if unmeasured:
        yield f"Not measured, so it may fit or not: {len(unmeasured)}"
        yield from columns([_found_row(lot, ()) for lot in unmeasured])


def _found_row(lot: Mapping[str, Any], wanted: Sequence[str]) -> tuple[str, ...]:
    said = [measured_text(lot, wanted)] if wanted else []
    said += [f"{_spoken(name)} {value}" for name, value in lot["attributes"].items()]
    if lot["condition"] == "unchecked":
        said.append("nobody has looked at it yet")
    if lot["part_of_lot"] is not None:
        said.append(f"fixed in lot {lot['part_of_lot']}")
    return f"in {lot['place']}", f"lot {lot['id']}", _spoken(lot["kind"]), "; ".join(said)


def _components(pieces: Mapping[str, Sequence[str]]) -> list[dict[str, Any]]:
    """Return the checklist, each piece behind the one that it is fixed in."""
    waiting = [_component(state, text) for state in STATES for text in pieces[state]]
    kinds = [each["kind"] for each in waiting]
    for each in waiting:
        holder = each["holder"]
        if holder is not None and kinds.count(holder) != 1:
            raise click.UsageError(
                f"{each['kind']} in {holder}: the list has {kinds.count(holder)} of these; "
                "it must have one"
            )
    named = [None if each["holder"] is None else kinds.index(each["holder"]) for each in waiting]
    order = holders_first(named)
    if len(order) < len(waiting):
        lost = next(place for place in range(len(waiting)) if place not in order)
        raise click.UsageError(f"{waiting[lost]['kind']}: no piece is fixed in itself")
    for each, holder in zip(waiting, named, strict=True):
        each.pop("holder")
        if holder is not None:
            each["part_of"] = order.index(holder)
    return [waiting[place] for place in order]


def _component(state: str, text: str) -> dict[str, Any]:
    match = _PIECE.fullmatch(text)
    if match is None:
        raise click.UsageError(f'{text!r}: give a piece such as "clip in cap"')
    component: dict[str, Any] = {
        "kind": _written(match["kind"]),
        "state": state,
        "holder": match["holder"] and _written(match["holder"]),
        "measured": {},
        "attributes": {},
    }
    for name, value in _pairs(_BETWEEN_PAIRS.split(match["said"]) if match["said"] else ()):
        if name in DIMENSIONS:
            component["measured"][name] = value
        elif name in _SAID_OF_ANY:
            component[name] = value
        else:
            is_number = _WHOLE_NUMBER.fullmatch(value)
            component["attributes"][name] = int(value) if is_number else value
    return component


def _pairs(texts: Sequence[str]) -> Iterator[tuple[str, str]]:
    for text in texts:
        name, is_pair, value = text.partition("=")
        if not (is_pair and name.strip() and value.strip()):
            raise click.UsageError(f"{text.strip()!r}: give NAME=VALUE, such as thread_starts=3")
        yield _written(name), value.strip()


def _print(donor: Mapping[str, Any], *, as_json: bool) -> None:
    if as_json:
        echo_json(donor)
    else:
        click.echo("\n".join(_donor_lines(donor)))


def _donor_lines(donor: Mapping[str, Any]) -> Iterator[str]:
    said = [", ".join(donor["materials"]) or "material not known"]
    said += [f"was {donor['pen']}"] if donor["pen"] else []
    said += [donor["note"]] if donor["note"] else []
    yield f"{donor['number']}  {donor['called']}  ({'; '.join(said)})"
    kinds = {each["id"]: _spoken(each["kind"]) for each in donor["components"]}
    rows = [
        (
            "gone" if each["taken"] else each["state"],
            _spoken(each["kind"]),
            f"lot {each['lot']}" if each["lot"] else "no piece",
            "; ".join(_said_of(each, kinds, donor["number"])),
        )
        for each in donor["components"]
    ]
    yield from columns(rows) if rows else ["  nothing is on its list"]
    if donor["cautions"]:
        yield "Mind:"
        yield from (f"  - {each['caution']}" for each in donor["cautions"])


def _said_of(component: Mapping[str, Any], kinds: Mapping[int, str], donor: str) -> Iterator[str]:
    for name, value in component["measured"].items():
        yield f"{_spoken(name)} {number_text(value)} mm"
    for name, value in component["attributes"].items():
        yield f"{_spoken(name)} {value}"
    if component["part_of"] in kinds:
        yield f"fixed in the {kinds[component['part_of']]}"
    if component["place"] not in {None, donor}:
        yield f"lies in {component['place']}"
    if component["promised_to"]:
        yield f"promised to {component['promised_to']}"
    if component["taken"]:
        job = f" for {component['taken']['job']}" if component["taken"]["job"] else ""
        yield f"{_spoken(component['taken']['verb'])}{job}"
    if component["note"]:
        yield component["note"]


def _written(name: str) -> str:
    """Return a name as the server writes it: inner_cap for "inner cap"."""
    return re.sub(r"[\s-]+", "_", name.strip())


def _spoken(name: str) -> str:
    return name.replace("_", " ")
