"""`sparewell count`: the sheet of what should lie in a drawer, and what was counted there."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import click

from sparewell.cli.answers import columns
from sparewell.cli.asking import LARGEST_PAGE, address_of, echo_json, json_option
from sparewell.cli.client import Client, RefusedByServer
from sparewell.cli.failures import EXIT_STATUSES, Failure, configuration

_COUNT = re.compile(r"\s*([1-9][0-9]{0,17})\s*=\s*([0-9]{1,9})\s*")


@click.command(epilog=EXIT_STATUSES)
@click.argument("drawer")
@click.option(
    "--counted",
    multiple=True,
    metavar="LOT=N",
    help="So many were counted of a lot, pieces in trays included. May be given again.",
)
@click.option("--reason", default="", help="Why it was counted; kept with the counts.")
@click.option(
    "--release",
    multiple=True,
    type=click.IntRange(1),
    metavar="RESERVATION",
    help="Give this promise up, where fewer are left than were promised. May be given again.",
)
@json_option("the sheet, or what came of the counts,")
def command(
    drawer: str,
    counted: tuple[str, ...],
    reason: str,
    release: tuple[int, ...],
    as_json: bool,  # noqa: FBT001 - click calls it so
) -> None:
    """Print what should lie in a drawer, or set it to what was counted.

    Without --counted it prints the sheet to count by, and changes nothing. With it, all
    differences are kept together or none of them: where less would be left than is promised, each
    job that waits for a piece is named.

    \b
    Example: sparewell count A3
             sparewell count A3 --counted 7=10 --counted 9=3 --reason "end of the year"
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    counts = [_count(text) for text in counted]
    if not counts and (reason or release):
        raise click.UsageError("--reason and --release go with --counted")
    client = Client(configuration())
    if counts:
        body = {"counts": counts, "reason": reason, "release": release}
        found = _post(client, drawer, body)
    else:
        lines = client.every(
            address_of("drawers", drawer, "count-sheet"), "lines", {"limit": LARGEST_PAGE}
        )
        found = {"drawer": drawer, "lines": list(lines)}
    if as_json:
        echo_json(found)
    else:
        click.echo("\n".join(_stocktake_lines(found) if counts else _sheet_lines(found)))


def _count(text: str) -> dict[str, int]:
    match = _COUNT.fullmatch(text)
    if match is None:
        raise click.UsageError(
            f"--counted {text!r}: give LOT=N, such as 7=10 for ten pieces of lot 7"
        )
    return {"lot": int(match[1]), "counted": int(match[2])}


def _post(client: Client, drawer: str, body: Mapping[str, Any]) -> Any:
    try:
        return client.post(address_of("drawers", drawer, "counts"), body).body
    except RefusedByServer as refused:
        held = [item for item in refused.document.get("errors", ()) if "job" in item]
        if not held:
            raise
        lines = [str(refused.document["detail"])]
        for job in dict.fromkeys(str(item["job"]) for item in held):
            pieces = ", ".join(
                f"lot {item['lot']} (reservation {item['reservation']})"
                for item in held
                if item["job"] == job
            )
            lines.append(f"{job} waits for {pieces}")
        lines.append("look in the trays too; --release RESERVATION gives a promise up")
        raise Failure("\n  ".join(lines), refused.exit_code) from refused


def _sheet_lines(sheet: Mapping[str, Any]) -> Iterator[str]:
    lines: Sequence[Any] = sheet["lines"]
    pieces = sum(line["in_hand"] for line in lines)
    if not lines:
        yield f"Drawer {sheet['drawer']}: nothing should be found in it."
        return
    yield f"Drawer {sheet['drawer']}: {_of(len(lines), 'lot')}, {_of(pieces, 'piece')}"
    yield from columns(
        [(f"lot {line['lot']}", _named(line), str(line["in_hand"]), _held(line)) for line in lines]
    )
    yield "Count pieces in trays too. Then:"
    counts = " ".join(f"--counted {line['lot']}=…" for line in lines[:2])
    yield f"  sparewell count {sheet['drawer']} {counts}" + (" …" if lines[2:] else "")


def _stocktake_lines(stocktake: Mapping[str, Any]) -> Iterator[str]:
    yield f"Counted, as group {stocktake['group']} of the ledger:"
    yield from columns(
        [
            (
                f"lot {each['lot']}",
                f"{each['expected']} expected",
                f"{each['counted']} counted",
                _difference(each["difference"]),
            )
            for each in stocktake["counted"]
        ]
    )
    if stocktake["not_counted"]:
        yield "Not counted:"
        yield from columns(
            [
                (f"lot {line['lot']}", _named(line), str(line["in_hand"]), _held(line))
                for line in stocktake["not_counted"]
            ]
        )


def _named(line: Mapping[str, Any]) -> str:
    """Return what a line is about; what came out of a donor has no part."""
    name = str(line["part"] or f"{line['kind'].replace('_', ' ')} without a part")
    said = [line[name] for name in ("label", "condition") if line[name]]
    return f"{name} ({', '.join(said)})" if said else name


def _held(line: Mapping[str, Any]) -> str:
    if not line["promised"]:
        return ""
    trays = f", {line['in_trays']} of them in trays" if line["in_trays"] else ""
    return f"{line['promised']} promised to {', '.join(line['jobs'])}{trays}"


def _difference(difference: int) -> str:
    if difference == 0:
        return "as expected"
    return f"{abs(difference)} {'more' if difference > 0 else 'fewer'}"


def _of(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
