"""A calculator's result as a page shows it: the answer in large figures, then all the rest.

Nothing here knows any calculator: the outputs it declared say what each figure is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sparewell.bench.wording import NOTHING, millimetres, plain, sixty_fourths, spoken

_LENGTH, _GROUP, _TEXT = "length", "group", "text"
_MOST_HEADLINES = 3
_HALF = 0.5


@dataclass(frozen=True)
class Figure:
    """One figure with its name; a length is also said in 64ths of an inch."""

    name: str
    shown: str
    help: str = ""
    also: str = ""


@dataclass(frozen=True)
class Table:
    """Things of one sort: a row each."""

    name: str
    columns: list[str]
    rows: list[list[str]]


@dataclass(frozen=True)
class Result:
    """Everything a calculator answered."""

    headline: list[Figure]
    figures: list[Figure] = field(default_factory=list)
    sentences: list[tuple[str, list[str]]] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)


def shown(calculator: Mapping[str, Any], result: Mapping[str, Any]) -> Result:
    """Return a result ready to be shown."""
    outputs = calculator["outputs"]
    headline = [
        figure
        for figure in (_at(outputs, result, path) for path in calculator["headline"])
        if figure is not None
    ]
    figures = list(_figures(outputs, result))
    return Result(
        headline=headline or figures[:_MOST_HEADLINES],
        figures=figures,
        sentences=[
            (spoken(output["name"]), [str(line) for line in result[output["name"]]])
            for output in outputs
            if output["many"] and output["type"] == _TEXT and result[output["name"]]
        ],
        tables=[
            _table(output, result[output["name"]])
            for output in outputs
            if output["many"] and output["type"] == _GROUP and result[output["name"]]
        ],
    )


def _at(
    outputs: Sequence[Mapping[str, Any]], result: Mapping[str, Any], path: str
) -> Figure | None:
    """Return the figure at the end of a path, or None where the answer has none."""
    output: Mapping[str, Any] = {"members": outputs}
    value: Any = result
    for step in path.split("."):
        output = next(each for each in output["members"] if each["name"] == step)
        value = value.get(step)
        if output["type"] == _GROUP and output["many"]:
            value = value[0] if value else None
        if value is None:
            return None
    return _figure(output, ", ".join(map(str, value)) if output["many"] else value)


def _figures(
    outputs: Sequence[Mapping[str, Any]], result: Mapping[str, Any], lead: str = ""
) -> Iterator[Figure]:
    for output in outputs:
        value = result.get(output["name"])
        if output["many"] or value is None:
            continue
        if output["type"] == _GROUP:
            yield from _figures(output["members"], value, f"{lead}{spoken(output['name'])}: ")
        else:
            yield _figure(output, value, lead)


def _figure(output: Mapping[str, Any], value: Any, lead: str = "") -> Figure:
    is_length = output["type"] == _LENGTH
    name = lead + spoken(output["name"])
    if is_length:
        return Figure(name, millimetres(value), output["help"], sixty_fourths(value))
    return Figure(name, _number(value), output["help"])


def _number(value: Any) -> str:
    is_half = isinstance(value, float) and value > 1 and value % 1 == _HALF
    return f"{int(value)}½" if is_half else spoken(plain(value))


def _table(output: Mapping[str, Any], rows: Sequence[Mapping[str, Any]]) -> Table:
    members = [each for each in output["members"] if not each["many"]]
    return Table(
        spoken(output["name"]),
        [spoken(each["name"]) for each in members],
        [[_cell(each, row.get(each["name"])) for each in members] for row in rows],
    )


def _cell(output: Mapping[str, Any], value: Any) -> str:
    if value is None:
        return NOTHING
    if output["type"] == _GROUP:
        return ", ".join(
            f"{spoken(each['name'])} {_cell(each, value.get(each['name']))}"
            for each in output["members"]
            if value.get(each["name"]) is not None
        )
    return millimetres(value) if output["type"] == _LENGTH else _number(value)
