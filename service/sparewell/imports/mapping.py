"""Which row is the header, and what each column is taken as, and why."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sparewell.errors import Impossible, Problem
from sparewell.imports.cells import folded
from sparewell.imports.sheets import Grid, column_letter, is_blank
from sparewell.imports.targets import Target, names

ROWS_TO_SEARCH = 40
SAMPLES = 3
_LEAST_HEADERS = 2
_NEAR_ENOUGH = 0.85
_SHORTEST_FOR_NEARNESS = 5
_LONGEST_HEADER = 200
_UNITS = (
    (re.compile(r"\b64ths?\b|\b1?/64\b|\bsixty-?fourths?\b", re.IGNORECASE), "64ths"),
    (re.compile(r"\bmm\b|\bmillimet(?:re|er)s?\b", re.IGNORECASE), "mm"),
    (re.compile(r"\bcm\b|\bcentimet(?:re|er)s?\b", re.IGNORECASE), "cm"),
    (re.compile(r"\bthou\b|\bmils?\b", re.IGNORECASE), "thou"),
    (re.compile(r"[uµμ]m\b|\bmicrons?\b", re.IGNORECASE), "um"),
    (re.compile(r"\binch(?:es)?\b|[(\[]\s*in\.?\s*[)\]]|\bin\.?$|\"", re.IGNORECASE), "in"),
)
_BRACKETS = re.compile(r"[(\[][^)\]]*[)\]]")
_FILLERS = re.compile(r"\b(?:the|a|an|of|my|our|its|in)\b")


@dataclass(frozen=True)
class Column:
    """A column: where it stands, its header, its first values, what it is taken as and why."""

    position: int
    header: str
    samples: tuple[str, ...]
    field: str | None
    unit: str | None
    why: str

    @property
    def letter(self) -> str:
        """Its letter in a spreadsheet."""
        return column_letter(self.position)


def recognised(rows: Grid, targets: Mapping[str, Target]) -> int:
    """Return how many headers are understood in the best of some rows."""
    words = _words(targets)
    return max((_merit(row, words) for row in rows[:ROWS_TO_SEARCH]), default=0)


def find_header(rows: Grid, targets: Mapping[str, Target], wanted: int | None) -> int:
    """Return the position of the header row. Raises :class:`Impossible`."""
    if wanted is not None:
        if wanted > len(rows) or is_blank(rows[wanted - 1]):
            raise Impossible.at("/header_row", f"row {wanted} is empty; name the row of headers")
        return wanted - 1
    words = _words(targets)
    merits = [_merit(row, words) for row in rows[:ROWS_TO_SEARCH]]
    best = max(merits, default=0)
    if best == 0 or (best < _LEAST_HEADERS and _width(rows) > 1):
        raise Impossible.at(
            "",
            f"no header row was found in the first {ROWS_TO_SEARCH} rows; a row is accepted that "
            f"heads its columns with words for {names(targets, _first(targets))}, or the option "
            "header_row with its number",
        )
    return merits.index(best)


def _first(targets: Mapping[str, Target]) -> list[str]:
    return [name for name, target in targets.items() if target.required] or list(targets)[:3]


def _width(rows: Grid) -> int:
    return max((len(row) for row in rows), default=0)


def _merit(row: Sequence[str], words: Mapping[str, Target]) -> int:
    found = {target.name for cell in row if cell and (target := words.get(bare(cell)))}
    return len(found)


def _words(targets: Mapping[str, Target]) -> dict[str, Target]:
    words: dict[str, Target] = {}
    for target in targets.values():
        # Its own name, as our own files head their columns, and the last step of it.
        for word in (folded(target.name), *target.words):
            words.setdefault(bare(word), target)
    return words


def bare(header: str) -> str:
    """Return a header without its unit, brackets and little words, as headers are compared."""
    text = header[:_LONGEST_HEADER]
    if folded(_BRACKETS.sub(" ", text)):
        text = _BRACKETS.sub(" ", text)
    for pattern, _ in _UNITS:
        left = pattern.sub(" ", text)
        text = left if folded(left) else text
    text = folded(text)
    return " ".join(_FILLERS.sub(" ", text).split()) or text


def unit_in(header: str) -> str | None:
    """Return the unit that a header names."""
    for pattern, unit in _UNITS:
        if pattern.search(header):
            return unit
    return None


def guess_columns(rows: Grid, header: int, targets: Mapping[str, Target]) -> list[Column]:
    """Return what each column that says anything is taken as, before anybody was asked."""
    heads, body = rows[header], rows[header + 1 :]
    width = max([len(heads), *(len(row) for row in body)], default=0)
    words = _words(targets)
    taken: dict[str, str] = {}
    headers: list[str] = []
    columns = []
    for position in range(width):
        head = heads[position] if position < len(heads) else ""
        samples = _samples(body, position)
        if not head and not samples:
            continue
        letter = column_letter(position)
        name = " ".join(head.split())[:_LONGEST_HEADER] or f"(column {letter})"
        if name in headers:
            name = f"{name} (column {letter})"
        headers.append(name)
        target, why = _guess(head, words)
        if target is not None and target.name in taken:
            why = f"{taken[target.name]!r} is taken as {target.name} already"
            target = None
        elif target is not None and _is_numbering(target, head, samples):
            target, why = None, "it seems to number the rows"
        unit = None
        if target is not None:
            taken[target.name] = name
            unit, why = _unit(target, head, why)
        columns.append(Column(position, name, samples, target.name if target else None, unit, why))
    return columns


def _samples(body: Grid, position: int) -> tuple[str, ...]:
    found: list[str] = []
    for row in body:
        if position < len(row) and row[position]:
            found.append(row[position][:100])
            if len(found) == SAMPLES:
                break
    return tuple(found)


def _guess(head: str, words: Mapping[str, Target]) -> tuple[Target | None, str]:
    if not head:
        return None, "it has no header"
    spoken = bare(head)
    target = words.get(spoken)
    if target is not None:
        return target, _because(head, target)
    if len(spoken) >= _SHORTEST_FOR_NEARNESS:
        near = difflib.get_close_matches(spoken, words, n=1, cutoff=_NEAR_ENOUGH)
        if near:
            return words[near[0]], f"{head!r} is nearly {near[0]!r}: {words[near[0]].title}"
    return None, f"{head!r} is no word known here"


def _because(head: str, target: Target) -> str:
    remark = f"; {target.remark}" if target.remark else ""
    return f"{head!r} is a word for {target.title}{remark}"


def _is_numbering(target: Target, head: str, samples: Sequence[str]) -> bool:
    """Whether a column headed "id" or "no" counts the rows, rather than naming or measuring."""
    if bare(head) not in {"id", "no", "number"}:
        return False
    return list(samples) == [str(number) for number in range(1, len(samples) + 1)] and (
        len(samples) == SAMPLES or target.takes_unit
    )


def _unit(target: Target, head: str, why: str) -> tuple[str | None, str]:
    if not target.takes_unit:
        return None, why
    unit = unit_in(head)
    if unit is None and bare(head) in target.sizes:
        unit = "64ths"
    if unit is None:
        return None, f"{why}; a figure without a unit is in millimetres"
    return unit, f"{why}; a figure without a unit is in {unit}"


def overridden(
    columns: Sequence[Column], mapping: Mapping[str, str | None], targets: Mapping[str, Target]
) -> list[Column]:
    """Return the columns as a person has mapped them. Raises :class:`Impossible`."""
    known = {column.header for column in columns}
    problems = []
    for header, name in mapping.items():
        pointer = "/mapping/" + header.replace("~", "~0").replace("/", "~1")
        if header not in known:
            said = ", ".join(repr(column.header) for column in columns)
            problems.append(Problem(pointer, f"there is no such column; there are {said}"))
        elif name is not None and name not in targets:
            near = difflib.get_close_matches(name, targets, n=1)
            meant = f"did you mean {near[0]}? " if near else ""
            detail = f"{name!r} is nothing to take a column as; {meant}Known are {names(targets)}"
            problems.append(Problem(pointer, detail))
    chosen = [name for name in mapping.values() if name is not None]
    problems += [
        Problem("/mapping", f"two columns cannot both be {name}")
        for name in sorted({name for name in chosen if chosen.count(name) > 1})
    ]
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return [_chosen(column, mapping, chosen, targets) for column in columns]


def _chosen(
    column: Column,
    mapping: Mapping[str, str | None],
    chosen: Sequence[str],
    targets: Mapping[str, Target],
) -> Column:
    position, header, samples = column.position, column.header, column.samples
    if header not in mapping:
        if column.field in chosen:
            why = f"another column is taken as {column.field}, as you said"
            return Column(position, header, samples, None, None, why)
        return column
    name = mapping[header]
    if name is None:
        return Column(position, header, samples, None, None, "left alone, as you said")
    unit, why = _unit(targets[name], header, "as you said")
    return Column(position, header, samples, name, unit, why)
