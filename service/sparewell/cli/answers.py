"""Answers of calculators as lines to read: the numbers first, whatever the calculator.

Nothing here knows a calculator: a plugin that nobody has met prints its members under their names.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, Final

HEADLINES: Final = ("size", "half_size", "recommended", "limited_by", "outcome", "stretch_percent")
_WORKING: Final = "working"
_WHY: Final = "why"
_UNKNOWN: Final = "not known"


def answer_lines(body: Mapping[str, Any], *, working: bool) -> list[str]:
    """Return an answer: the headlines, the other members, warnings and cautions."""
    return [*_result_lines(body, working=working, everything=True), *_notice_lines(body)]


def fit_lines(body: Mapping[str, Any], *, working: bool) -> list[str]:
    """Return a fit: the headlines, the pieces, what to buy, warnings and cautions."""
    has_headlines = any(name in body["result"] for name in HEADLINES)
    return [
        *_result_lines(body, working=working, everything=working or not has_headlines),
        *candidate_lines(body["candidates"]),
        *_refused_lines(body["refused"], ends_early=body.get("refused_ends_early", False)),
        *_purchase_lines(body["to_buy"]),
        *_notice_lines(body),
    ]


def _result_lines(body: Mapping[str, Any], *, working: bool, everything: bool) -> Iterator[str]:
    result = body["result"]
    headlines = [name for name in HEADLINES if name in result]
    others = [name for name in result if name not in {*HEADLINES, _WORKING}]
    shown = [*headlines, *others] if everything else headlines
    width = max((len(name) for name in shown), default=0) + 2
    for name in shown:
        yield from _member_lines(name, result[name], width)
    if everything:
        yield "(lengths in millimetres)"
    if working:
        yield from _listed("Working", result.get(_WORKING) or ())


def _member_lines(name: str, value: Any, width: int) -> Iterator[str]:
    if isinstance(value, list):
        yield from _listed(_spoken(name).capitalize(), [_text(item) for item in value])
    else:
        yield f"{_spoken(name):<{width}}{_text(value)}"


def candidate_lines(candidates: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the pieces that would do, the best first, in columns."""
    if not candidates:
        return ["", "Nothing in hand fits."]
    rows = [
        (
            f"lot {item['lot']}",
            f"in {item['place']}",
            _part_of(item),
            f"{item['available']} available",
            str(item["verdict"]).replace("_", " "),
            str(item["why"]),
        )
        for item in candidates
    ]
    return ["", "Fits, best first:", *columns(rows)]


def _part_of(item: Mapping[str, Any]) -> str:
    """Return the number of a piece's part; what came out of a donor may have none."""
    return str(item["part"] or f"{_spoken(str(item.get('kind', 'piece')))} without a part")


def _refused_lines(refused: Sequence[Mapping[str, Any]], *, ends_early: bool) -> list[str]:
    rows = [
        (
            f"lot {item['lot']}",
            f"in {item['place']}",
            _part_of(item),
            str(item["why"]) + (f" ({item['job']})" if item.get("job") else ""),
        )
        for item in refused
    ]
    if ends_early:
        rows.append(("and others", "further off", "", "not looked at"))
    return ["", "Refused, nearest first:", *columns(rows)] if rows else []


def _purchase_lines(purchases: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    yield from _listed(
        "To buy",
        [f"{item['ask_for']}; on arrival: {item['check_on_arrival']}" for item in purchases],
    )


def _notice_lines(body: Mapping[str, Any]) -> Iterator[str]:
    yield from _listed("Warnings", body.get("warnings") or ())
    yield from _listed("Cautions", body.get("cautions") or ())


def _listed(title: str, texts: Sequence[str]) -> Iterator[str]:
    if texts:
        yield ""
        yield f"{title}:"
        yield from (f"  - {text}" for text in texts)


def columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Return rows with their columns below each other; the last is as long as it likes."""
    widths = [max(len(row[position]) for row in rows) for position in range(len(rows[0]) - 1)]
    lines = (
        "  ".join(
            [*(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=False)), row[-1]]
        )
        for row in rows
    )
    return [f"  {line}".rstrip() for line in lines]


def _text(value: Any) -> str:
    """Return a value of JSON as people write it; a group in one line, its reason last."""
    match value:
        case None:
            return _UNKNOWN
        case bool():
            return "yes" if value else "no"
        case Decimal():
            return format(value, "f")
        case dict():
            parts = [
                f"{_spoken(name)} {_text(item)}" for name, item in value.items() if name != _WHY
            ]
            why = f": {value[_WHY]}" if value.get(_WHY) else ""
            return ", ".join(parts) + why
        case list():
            return "; ".join(_text(item) for item in value) or "none"
        case _:
            return str(value)


def _spoken(name: str) -> str:
    return name.replace("_", " ")
