"""A calculator's result as a page shows it: the answer in large figures, then all the rest.

Nothing here knows any calculator: the outputs it declared say what each figure is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sparewell.bench.wording import NOTHING, millimetres, plain, sixty_fourths, spoken
from sparewell.extend.declarations import Calculator
from sparewell.extend.fields import Output, OutputType

_MOST_HEADLINES = 3
_HALF = 0.5


@dataclass(frozen=True)
class ShownFigure:
    """One figure with its name; a length is also said in 64ths of an inch."""

    name: str
    shown: str
    help: str = ""
    also: str = ""


@dataclass(frozen=True)
class ResultTable:
    """Things of one sort: a row each."""

    name: str
    columns: list[str]
    rows: list[list[str]]


@dataclass(frozen=True)
class ShownResult:
    """Everything a calculator answered."""

    headline: list[ShownFigure]
    figures: list[ShownFigure] = field(default_factory=list)
    sentences: list[tuple[str, list[str]]] = field(default_factory=list)
    tables: list[ResultTable] = field(default_factory=list)


def shown(calculator: Calculator, result: Mapping[str, Any]) -> ShownResult:
    """Return a result ready to be shown."""
    outputs = calculator.outputs
    headline = [
        figure
        for figure in (_at(outputs, result, path) for path in calculator.headline)
        if figure is not None
    ]
    figures = list(_figures(outputs, result))
    return ShownResult(
        headline=headline or figures[:_MOST_HEADLINES],
        figures=figures,
        sentences=[
            (spoken(output.name), [str(line) for line in result[output.name]])
            for output in outputs
            if output.many and output.type is OutputType.TEXT and result[output.name]
        ],
        tables=[
            _table(output, result[output.name])
            for output in outputs
            if output.many and output.type is OutputType.GROUP and result[output.name]
        ],
    )


def _at(outputs: Sequence[Output], result: Mapping[str, Any], path: str) -> ShownFigure | None:
    """Return the figure at the end of a path, or None where the answer has none."""
    value: Any = result
    for step in path.split("."):
        output = next(each for each in outputs if each.name == step)
        outputs = output.members
        value = value.get(step)
        if output.type is OutputType.GROUP and output.many:
            value = value[0] if value else None
        if value is None:
            return None
    return _figure(output, ", ".join(map(str, value)) if output.many else value)


def _figures(
    outputs: Sequence[Output], result: Mapping[str, Any], lead: str = ""
) -> Iterator[ShownFigure]:
    for output in outputs:
        value = result.get(output.name)
        if output.many or value is None:
            continue
        if output.type is OutputType.GROUP:
            yield from _figures(output.members, value, f"{lead}{spoken(output.name)}: ")
        else:
            yield _figure(output, value, lead)


def _figure(output: Output, value: Any, lead: str = "") -> ShownFigure:
    is_length = output.type is OutputType.LENGTH
    name = lead + spoken(output.name)
    if is_length:
        return ShownFigure(name, millimetres(value), output.help, sixty_fourths(value))
    return ShownFigure(name, _number(value), output.help)


def _number(value: Any) -> str:
    is_half = isinstance(value, float) and value > 1 and value % 1 == _HALF
    return f"{int(value)}½" if is_half else spoken(plain(value))


def _table(output: Output, rows: Sequence[Mapping[str, Any]]) -> ResultTable:
    members = [each for each in output.members if not each.many]
    return ResultTable(
        spoken(output.name),
        [spoken(each.name) for each in members],
        [[_cell(each, row.get(each.name)) for each in members] for row in rows],
    )


def _cell(output: Output, value: Any) -> str:
    if value is None:
        return NOTHING
    if output.type is OutputType.GROUP:
        return ", ".join(
            f"{spoken(each.name)} {_cell(each, value.get(each.name))}"
            for each in output.members
            if value.get(each.name) is not None
        )
    return millimetres(value) if output.type is OutputType.LENGTH else _number(value)
