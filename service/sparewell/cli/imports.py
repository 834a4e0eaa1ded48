"""`sparewell import`: brings a notebook in, kept as a table; without --apply it only looks."""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

import click

from sparewell.cli.client import Client
from sparewell.cli.failures import DONE, NO, WRONG_USAGE, Failure, configuration

PATH = "/v1/imports"
KINDS_OF_FILE = ("lots", "parts", "donors", "pens", "jobs")
# Checking and writing a hundred thousand rows on a slow machine.
LONGEST_SECONDS = 600.0
_SECONDS_BETWEEN_LOOKS = 0.3
_LONGEST_SAMPLE = 18


@click.command(
    "import",
    epilog="Exit status: 0 there is nothing wrong in it (with --apply: it is in); 1 there are "
    "problems, and nothing was changed; 2 wrong usage, or no table; 3 the server or the database "
    "cannot be reached, or does not let you in.",
)
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--as", "of", type=click.Choice(KINDS_OF_FILE), help="What each row is one of.")
@click.option(
    "--map",
    "mapped",
    multiple=True,
    metavar="HEADER=FIELD",
    help='What a column is, such as --map "Price=cost_each"; --map "Shop=" leaves it out. May be '
    "given again.",
)
@click.option("--create-drawers", is_flag=True, help="Make drawers that are not there yet.")
@click.option("--keep-unmapped", is_flag=True, help="Put the columns left out into the note.")
@click.option(
    "--fill-down",
    multiple=True,
    metavar="HEADER",
    help="An empty cell in this column means what stands above it. May be given again.",
)
@click.option(
    "--dates",
    type=click.Choice(["day-first", "month-first"]),
    help="What 03/04/2025 means; it is refused where this is left out.",
)
@click.option("--sheet", help="The sheet of a workbook; the first one where it is left out.")
@click.option("--header-row", type=click.IntRange(min=1), help="The row of headers.")
@click.option("--again", is_flag=True, help="The same file came a second time, and is meant.")
@click.option("--apply", is_flag=True, help="Bring it in, if nothing is wrong: all or nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print what was found as JSON.")
@click.pass_context
def command(
    context: click.Context,
    /,
    file: Path,
    of: str | None,
    mapped: Sequence[str],
    *,
    apply: bool,
    as_json: bool,
    **said: Any,
) -> None:
    """Bring a notebook in from a table, or everything from one JSON file.

    FILE is a table as .csv or .xlsx, one part, lot, donor, pen or past job to a row. It is looked
    through first: what each column is taken as, and each problem with its cell. With --apply, and
    only where there is none, all of it comes in at once.

    A .json file that `sparewell export` wrote goes into an empty database, with no server running.

    \b
    Example: sparewell import cabinet.csv --as lots --create-drawers
             sparewell import cabinet.csv --as lots --create-drawers --apply
             sparewell import everything.json
    """  # noqa: D301 - click reads the backspace as "keep these lines"
    if file.suffix.lower() == ".json":
        if of is not None:
            raise click.UsageError("--as is for tables; a .json file holds everything", context)
        import_module("sparewell.cli.everything").bring_in(file)
        return
    if of is None:
        raise click.UsageError("--as says what each row is one of", context)
    client = Client(configuration(), LONGEST_SECONDS)
    query = {"of": of, "name": file.name[:200], "check": "later"}
    kept = client.post_file(PATH, file.read_bytes(), query).body
    address = f"{PATH}/{kept['id']}"
    is_applied = False
    try:
        found = _watched(client, address, "check", _options(mapped, said))
        is_clean = found["state"] == "checked"
        if is_clean and apply:
            found = _watched(client, address, "apply", {})
            is_applied = True
        elif not is_clean:
            found["problems"] = list(client.every(f"{address}/problems", "problems", _PAGE))
    finally:
        if not is_applied:
            client.post(f"{address}/withdraw", {})
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=2, default=float))
    else:
        click.echo("\n".join(_lines(found, apply=apply)))
    context.exit(DONE if is_clean else NO)


_PAGE = {"limit": "500"}


def _options(mapped: Sequence[str], said: Mapping[str, Any]) -> dict[str, Any]:
    mapping: dict[str, str | None] = {}
    for text in mapped:
        header, sign, name = text.rpartition("=")
        if not sign or not header:
            raise Failure(f"--map {text!r}: write HEADER=FIELD, or HEADER= alone", WRONG_USAGE)
        mapping[header.strip()] = name.strip() or None
    options = {name: value for name, value in said.items() if value}
    if "dates" in options:
        options["dates"] = options["dates"].replace("-", "_")
    if "fill_down" in options:
        options["fill_down"] = list(options["fill_down"])
    return options | ({"mapping": mapping} if mapping else {})


def _watched(client: Client, address: str, verb: str, body: Mapping[str, Any]) -> dict[str, Any]:
    """Have something done, and show on standard error how far it is. Raises :class:`Failure`."""
    answers: list[Any] = []
    failures: list[Failure] = []

    def ask() -> None:
        try:
            answers.append(client.post(f"{address}/{verb}", body).body)
        except Failure as failure:
            failures.append(failure)

    label = {"check": "Checking", "apply": "Bringing in"}[verb]
    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:
        asking.join(_SECONDS_BETWEEN_LOOKS)
        while asking.is_alive():
            progress = client.get(address).body.get("progress")
            if progress and progress["of"]:
                bar.length = int(progress["of"])
                bar.update(min(int(progress["done"]), bar.length - 1) - bar.pos)
            asking.join(_SECONDS_BETWEEN_LOOKS)
        if answers:
            bar.update((bar.length or 1) - bar.pos)
    if failures:
        raise failures[0]
    return dict(answers[0])


def _lines(found: Mapping[str, Any], *, apply: bool) -> Iterator[str]:
    yield f"{found['name']}: {found['rows']} rows of {found['of']}"
    yield ""
    yield "What each column is taken as:"
    for column in found["columns"]:
        samples = ", ".join(_short(sample) for sample in column["samples"])
        yield f"  {column['column']:<3}{column['header']} -> {column['field'] or 'left out'}"
        yield f"     {column['why']}" + (f"; it begins with {samples}" if samples else "")
    yield ""
    yield from found["notices"]
    if found["problems"]:
        yield ""
        yield f"Problems: {found['problems_total']}"
        for problem in found["problems"]:
            yield from _problem_lines(problem)
    yield ""
    yield _verdict(found, apply=apply)


def _problem_lines(problem: Mapping[str, Any]) -> Iterator[str]:
    where = "the file"
    if problem["cell"]:
        where = f"{problem['cell']} ({problem['column']})"
    elif problem["row"]:
        where = f"row {problem['row']}"
    yield f"  {where}: {problem['detail']}"
    if problem["accepted"]:
        yield f"     accepted: {problem['accepted']}"


def _verdict(found: Mapping[str, Any], *, apply: bool) -> str:
    if found["problems_total"]:
        return "Nothing was changed."
    if not apply:
        return "Nothing is wrong in it, and nothing was changed; --apply brings it in."
    made = ", ".join(
        f"{len(count) if isinstance(count, list) else count} {what}"
        for what, count in found["created"].items()
    )
    group = f", as group {found['group']} of the ledger" if found["group"] else ""
    return f"Brought in: {made}{group}."


def _short(text: str) -> str:
    plain = " ".join(text.split())
    return repr(plain if len(plain) <= _LONGEST_SAMPLE else f"{plain[:_LONGEST_SAMPLE]}...")
