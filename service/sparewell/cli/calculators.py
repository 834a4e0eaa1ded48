"""Commands made from what the server says of its calculators.

The phases: the list is fetched for `--help` alone; one calculator is fetched when it is named, and
its inputs become options; what was given is sent, and the answer is shown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import click

from sparewell.cli.answers import answer_lines, fit_lines
from sparewell.cli.client import Client, ServerAnswer
from sparewell.cli.failures import EXIT_STATUSES, NO, WRONG_USAGE, Failure, configuration, note

LARGEST_LIMIT = 200
_OWN_FLAGS: Final = frozenset({"json", "drawing", "working", "limit", "help"})
_MATERIAL: Final = "material"


class CalculatorGroup(click.Group):
    """A verb whose subcommands are the server's calculators."""

    def __init__(self, *arguments: Any, fits: bool = False, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.fits = fits

    def list_commands(self, _context: click.Context) -> list[str]:
        """Return the names of the calculators, or none where nobody answers."""
        try:
            return [str(calculator["name"]) for calculator in self._calculators()]
        except Failure:
            return []

    def get_command(self, _context: click.Context, name: str) -> click.Command:
        """Make the command of one calculator. Raises :class:`Failure`."""
        client = Client(configuration())
        name = name.replace("-", "_")
        try:
            declared = client.get(f"/v1/calculators/{quote(name, safe='')}").body
        except Failure as failure:
            status = WRONG_USAGE if failure.exit_code == NO else failure.exit_code
            raise Failure(failure.message, status) from failure
        if self.fits and not declared["fits_pieces"]:
            raise Failure(
                f"{name} does not choose among pieces in hand; try sparewell size {name}", NO
            )
        return command_of(client, declared, fits=self.fits)

    def format_commands(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        """List the calculators, or say why they cannot be listed."""
        with formatter.section("Calculators"):
            try:
                calculators = self._calculators()
            except Failure as failure:
                formatter.write_text(f"They are listed when the server answers: {failure.message}")
                return
            formatter.write_dl([(item["name"], item["title"]) for item in calculators])

    def _calculators(self) -> list[Any]:
        found = Client(configuration()).every("/v1/calculators", "calculators", {})
        return [item for item in found if item["fits_pieces"] or not self.fits]


def command_of(client: Client, declared: Mapping[str, Any], *, fits: bool) -> click.Command:
    """Return the command of one calculator."""
    name = declared["name"]
    inputs = [item for item in declared["inputs"] if not (fits and item["name"] == _MATERIAL)]
    reckons_with_material = len(inputs) < len(declared["inputs"])

    def run(**given: Any) -> None:
        body = _given(inputs, given)
        if fits:
            body |= _choice_of_pieces(given, declared if reckons_with_material else None)
        answer = client.post(f"/v1/{'fits' if fits else 'calculators'}/{name}", body)
        _show(answer, given, fits=fits)

    required_first = sorted(inputs, key=lambda item: not item["required"])
    return click.Command(
        name,
        callback=run,
        params=[
            *(option for item in required_first for option in _options(item)),
            *(_fit_options(reckons=reckons_with_material) if fits else ()),
            *_output_options(),
        ],
        help=f"{declared['title']}.\n\n{declared['help']}\n\n{_example(declared, fits=fits)}",
        epilog=f"Lengths are millimetres, or carry their unit: 6.4, '9/32 in', '70 thou'. "
        f"{EXIT_STATUSES}",
    )


def _example(declared: Mapping[str, Any], *, fits: bool) -> str:
    required = [_flag(item["name"]) for item in declared["inputs"] if item["required"]]
    line = " ".join(
        ["sparewell", "fit" if fits else "size", declared["name"], *(f"{f} …" for f in required)]
    )
    return f"\b\nExample: {line}"


def _flag(name: str) -> str:
    """Return an input's option; one that is called like an option of ours says that it is one."""
    return f"--{'input-' if name in _OWN_FLAGS else ''}{name.replace('_', '-')}"


def _given(inputs: Sequence[Mapping[str, Any]], given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the body of what was given; the members of a group stand together in an object."""
    body: dict[str, Any] = {}
    for item in inputs:
        name = item["name"]
        if item["members"]:
            group = {
                member["name"]: given[f"{name}_{member['name']}"]
                for member in item["members"]
                if given[f"{name}_{member['name']}"] is not None
            }
            body |= {name: group} if group else {}
        elif given[name] is not None:
            body[name] = given[name]
    return body


def _options(declared: Mapping[str, Any]) -> list[click.Option]:
    """Return the option of one input, or one for each member of a group."""
    if not declared["members"]:
        return [_option(declared, declared["name"])]
    return [
        _option({**member, "required": False}, f"{declared['name']}_{member['name']}")
        for member in declared["members"]
    ]


def _option(declared: Mapping[str, Any], name: str) -> click.Option:
    """Return the option of one value."""
    kind = declared["type"]
    flag = _flag(name)
    options: dict[str, Any] = {"required": declared["required"], "help": _help(declared)}
    if kind == "flag":
        return click.Option(
            [f"{flag}/--no-{flag.removeprefix('--')}", name], default=None, **options
        )
    if kind == "choice":
        options["type"] = click.Choice(declared["choices"])
    elif kind == "integer":
        options["type"] = click.INT
        options["metavar"] = "INTEGER"
    else:
        # Sent as it was typed: the server reads every spelling, and keeps it with the reading.
        options["type"] = click.STRING
        options["metavar"] = kind.upper()
    return click.Option([flag, name], **options)


def _help(declared: Mapping[str, Any]) -> str:
    title = str(declared["title"]).rstrip(".")
    texts = (f"{title}.", declared["help"], declared["how"])
    return " ".join(str(text) for text in texts if text)


def _fit_options(*, reckons: bool) -> list[click.Option]:
    also = " A single one is also what the answer is reckoned with." if reckons else ""
    return [
        click.Option(
            ["--material", "own_materials"],
            multiple=True,
            metavar="TEXT",
            help=f"Only pieces of this material; may be given again for another.{also}",
        ),
        click.Option(
            ["--pen-material", "own_pen_materials"],
            multiple=True,
            metavar="TEXT",
            help="What the pen is made of; may be given again. Unsaid, it counts as the worst.",
        ),
        click.Option(
            ["--limit", "own_limit"],
            type=click.IntRange(1, LARGEST_LIMIT),
            help="At most so many candidates.",
        ),
    ]


def _output_options() -> list[click.Option]:
    return [
        click.Option(
            ["--working", "own_working"],
            is_flag=True,
            help="Show every step, and whatever else the answer holds.",
        ),
        click.Option(
            ["--drawing", "own_drawing"],
            type=click.Path(dir_okay=False, path_type=Path),
            metavar="FILE",
            help="Write the drawing to scale to a file, as SVG.",
        ),
        click.Option(
            ["--json", "own_json"], is_flag=True, help="Print the server's JSON as it came."
        ),
    ]


def _choice_of_pieces(
    given: Mapping[str, Any], declared: Mapping[str, Any] | None
) -> dict[str, Any]:
    """Return what a fit takes beside the inputs."""
    chosen: dict[str, Any] = {}
    materials = list(given["own_materials"])
    if materials:
        chosen["materials"] = materials
    if given["own_pen_materials"]:
        chosen["pen_materials"] = list(given["own_pen_materials"])
    if given["own_limit"] is not None:
        chosen["limit"] = given["own_limit"]
    if declared is not None and len(materials) == 1:
        item = next(item for item in declared["inputs"] if item["name"] == _MATERIAL)
        if not item["choices"] or materials[0] in item["choices"]:
            chosen[_MATERIAL] = materials[0]
    return chosen


def _show(answer: ServerAnswer, given: Mapping[str, Any], *, fits: bool) -> None:
    """Print an answer, and write its drawing where it was asked for."""
    body = answer.body
    if given["own_json"]:
        click.echo(answer.text.rstrip("\n"))
    else:
        lines = fit_lines if fits else answer_lines
        click.echo("\n".join(lines(body, working=given["own_working"])))
    if given["own_drawing"] is not None:
        _write_drawing(given["own_drawing"], body.get("drawing"))


def _write_drawing(file: Path, drawing: object) -> None:
    if not isinstance(drawing, str):
        raise Failure("this answer has no drawing; nothing was written", NO)
    try:
        file.write_text(drawing, encoding="utf-8")
    except OSError as error:
        raise Failure(f"--drawing {file}: {error.strerror}", WRONG_USAGE) from error
    note(f"The drawing is in {file}")
