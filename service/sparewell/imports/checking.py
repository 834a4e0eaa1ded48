"""Checking a file row by row, with every fault in its place. Nothing is written here.

The phases: the file becomes rows; the header is found and each column is taken as something; what
the rows name is looked up at once; each row is read cell by cell, goes through the schema that the
API has for it, and through the rules of what it becomes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import marshmallow as ma

from sparewell.edge.schema import REQUIRED_SAID
from sparewell.errors import Impossible, Refusal
from sparewell.imports.cells import CellRefused, Manner, folded, plain, value_of
from sparewell.imports.forms import Fault, ImportForm, Options, Progress, Said, divided
from sparewell.imports.mapping import Column, find_header, guess_columns, overridden, recognised
from sparewell.imports.reading import Remembered, RowReader
from sparewell.imports.sheets import Grid, is_blank, read_sheet
from sparewell.imports.targets import Target, targets_of
from sparewell.work import Work

MOST_PROBLEMS = 100_000
MOST_NOTICES = 50
_ROWS_BETWEEN_WORDS = 500
_LONGEST_VALUE, _LONGEST_DETAIL, _LONGEST_ACCEPTED = 200, 2000, 1000
_TOTALS = {"total", "totals", "sum", "grand total", "subtotal", "sub total", "summe", "gesamt"}
CHECKING = "checking"


@dataclass
class Checked:
    """What came of checking a file."""

    columns: list[Column]
    rows: int
    notices: list[str]
    form: ImportForm
    faults: list[Fault]
    faults_total: int = 0

    @property
    def is_clean(self) -> bool:
        """Whether it may be applied."""
        return self.faults_total == 0


@dataclass(frozen=True)
class _Reading:
    """How one column is read."""

    column: Column
    target: Target
    values: Remembered


class _Faults:
    """The faults of a file, as far as they are kept, and their number."""

    def __init__(self, columns: Sequence[Column]) -> None:
        self.found: list[Fault] = []
        self.total = 0
        self._by_field = {column.field: column for column in columns if column.field}

    def add(self, detail: str, accepted: str) -> None:
        """Note a fault of the file as a whole."""
        self._keep(Fault(detail[:_LONGEST_DETAIL], accepted[:_LONGEST_ACCEPTED]))

    def at(self, number: int, column: Column, value: str, detail: str, accepted: str) -> None:
        """Note a fault of a cell."""
        self._keep(
            Fault(
                detail[:_LONGEST_DETAIL],
                accepted[:_LONGEST_ACCEPTED],
                number,
                column.header,
                f"{column.letter}{number}",
                value[:_LONGEST_VALUE],
            )
        )

    def of_target(self, row: Sequence[str], number: int, name: str, said: tuple[str, str]) -> None:
        """Note a fault of what a row says of a target, where that has a column."""
        column = self._by_field.get(name)
        if column is None:
            shown = f"{name}: {said[0]}" if name else said[0]
            self._keep(Fault(shown[:_LONGEST_DETAIL], said[1][:_LONGEST_ACCEPTED], number))
        else:
            self.at(number, column, _cell(row, column.position), *said)

    def _keep(self, fault: Fault) -> None:
        self.total += 1
        if self.total <= MOST_PROBLEMS:
            self.found.append(fault)


def check(
    work: Work,
    of: str,
    forms: Mapping[str, type[ImportForm]],
    content: bytes,
    options: Options,
    tell: Progress,
) -> Checked:
    """Check a file. Raises :class:`Impossible` for one that is no table, or wrong options."""
    targets = targets_of(of, work.declared)
    sheet = read_sheet(content, options.sheet, lambda rows: recognised(rows, targets))
    header = find_header(sheet.rows, targets, options.header_row)
    columns = overridden(guess_columns(sheet.rows, header, targets), options.mapping, targets)
    notices = [*sheet.notices, f"row {header + 1} is taken as the header"]
    faults = _Faults(columns)
    lacking = _lacking(targets, columns)
    for target in lacking:
        faults.add(
            f"no column is taken as {target.name}: {target.title}",
            f"a column headed {', '.join(map(repr, target.words[:6]))}, or a mapping that names it",
        )
    body = list(_body(sheet.rows, header, notices))
    _fill_down(body, columns, options)
    form = forms[of](work, options)
    readings = [
        _reading(column, targets[column.field], options) for column in columns if column.field
    ]

    def said() -> Iterator[_Read]:
        return (_said(row, number, readings, columns, options) for number, row in body)

    form.look_up(each.row for each in said())
    # From here on it is reckoning: no transaction is to wait for it.
    work.session.close()
    _check_rows(form, targets, body, said(), faults, {each.name for each in lacking}, tell)
    if not body:
        faults.add("there is no row below the header", "at least one row")
    _notice_twins(body, notices)
    unmapped = [column.header for column in columns if column.field is None]
    if unmapped:
        went = "goes into the note" if options.keep_unmapped else "is left out"
        notices.append(f"{', '.join(map(repr, unmapped))}: {went}")
    if faults.total > MOST_PROBLEMS:
        notices.append(f"only the first {MOST_PROBLEMS} problems are listed")
    notices = [*form.notices(), *notices][:MOST_NOTICES]
    return Checked(columns, len(body), notices, form, faults.found, faults.total)


def _lacking(targets: Mapping[str, Target], columns: Sequence[Column]) -> list[Target]:
    mapped = {column.field for column in columns}
    return [each for each in targets.values() if each.required and each.name not in mapped]


def _cell(row: Sequence[str], position: int) -> str:
    return row[position] if position < len(row) else ""


def _body(rows: Grid, header: int, notices: list[str]) -> Iterator[tuple[int, list[str]]]:
    """Give the rows that say something, by their numbers in the file, without sums and headers."""
    head = [cell for cell in rows[header] if cell]
    for number, row in enumerate(rows[header + 1 :], header + 2):
        if is_blank(row):
            continue
        first = next(cell for cell in row if cell)
        if folded(first) in _TOTALS:
            notices.append(f"row {number} is left out: it reads as a sum ({first!r})")
        elif [cell for cell in row if cell] == head:
            notices.append(f"row {number} is left out: it repeats the header")
        else:
            yield number, list(row)


def _notice_twins(body: Sequence[tuple[int, Sequence[str]]], notices: list[str]) -> None:
    """Say which rows are the same in every cell; two bags may be, a slip may be, too."""
    seen: dict[bytes, int] = {}
    for number, row in body:
        digest = hashlib.blake2b("\x1f".join(row).rstrip("\x1f").encode(), digest_size=16).digest()
        if digest in seen and len(notices) < MOST_NOTICES:
            notices.append(f"row {number} is the same as row {seen[digest]}, cell by cell")
        seen.setdefault(digest, number)


def _fill_down(
    body: Sequence[tuple[int, list[str]]], columns: Sequence[Column], options: Options
) -> None:
    """Give empty cells what stands above them, in the columns that a person named for it."""
    by_header = {column.header: column for column in columns}
    for index, header in enumerate(options.fill_down):
        if header not in by_header:
            raise Impossible.at(f"/fill_down/{index}", f"there is no column {header!r}")
        position, above = by_header[header].position, ""
        for _, row in body:
            row.extend([""] * (position + 1 - len(row)))
            above = row[position] = row[position] or above


def _reading(column: Column, target: Target, options: Options) -> _Reading:
    manner = Manner(column.unit, options.dates)
    return _Reading(column, target, Remembered(lambda text: value_of(text, target.read, manner)))


@dataclass(frozen=True)
class _Read:
    """A row whose cells were read, and those that could not be."""

    row: Said
    refused: list[tuple[Column, CellRefused]]


def _said(
    row: Sequence[str],
    number: int,
    readings: Sequence[_Reading],
    columns: Sequence[Column],
    options: Options,
) -> _Read:
    values: dict[str, Any] = {}
    refused = []
    for reading in readings:
        text = _cell(row, reading.column.position)
        if not text:
            continue
        try:
            value = reading.values[text]
        except CellRefused as error:
            refused.append((reading.column, error))
            continue
        outer, _, inner = reading.target.name.partition(".")
        if inner:
            values.setdefault(outer, {})[inner] = value
        else:
            values[outer] = value
    if options.keep_unmapped:
        rest = [
            f"{column.header}: {plain(cell)}"
            for column in columns
            if column.field is None and (cell := _cell(row, column.position))
        ]
        if rest:
            values["note"] = "\n".join([*([values["note"]] if "note" in values else []), *rest])
    return _Read(Said(number, values), refused)


def _check_rows(
    form: ImportForm,
    targets: Mapping[str, Target],
    body: Sequence[tuple[int, Sequence[str]]],
    said: Iterable[_Read],
    faults: _Faults,
    lacking: set[str],
    tell: Progress,
) -> None:
    """Check row by row; what the rows become is kept by the form."""
    reader = RowReader(form.schema())
    for done, ((number, row), read) in enumerate(zip(body, said, strict=True)):
        if done % _ROWS_BETWEEN_WORDS == 0:
            tell(CHECKING, done, len(body))
        for column, error in read.refused:
            cell = _cell(row, column.position)
            faults.at(number, column, cell, error.detail, error.accepted)
        known = lacking | {str(column.field) for column, _ in read.refused}
        for name, detail, accepted in _row_faults(form, reader, targets, read.row):
            if name not in known:
                faults.of_target(row, number, name, (detail, accepted))
    tell(CHECKING, len(body), len(body))


def _row_faults(
    form: ImportForm,
    reader: RowReader,
    targets: Mapping[str, Target],
    row: Said,
) -> Iterator[tuple[str, str, str]]:
    """Give what is wrong with a row; where nothing is, have kept what it becomes."""
    values = dict(row.values)
    apart = form.apart(values)
    besides = Said(row.number, apart)
    found: list[tuple[str, str, str]] = []
    try:
        loaded = reader.load(values)
    except ma.ValidationError as error:
        for path, detail in _sentences(error.messages, ()):
            name = _target_at(path, targets)
            found.append((name, *_divided_for(detail, targets.get(name))))
        valid = error.valid_data
        loaded = dict(valid) if isinstance(valid, Mapping) else {}
    found += [(each.target, each.detail, each.accepted) for each in form.faults(besides, loaded)]
    if found:
        yield from found
        return
    try:
        form.keep(form.check(besides, loaded))
    except Refusal as refused:
        for problem in refused.problems:
            path = tuple(problem.pointer.strip("/").split("/"))
            name = _target_at(path, targets)
            yield name, *_divided_for(problem.detail, targets.get(name))


def _target_at(path: Sequence[str], targets: Mapping[str, Target]) -> str:
    whole = ".".join(path[:2])
    return whole if whole in targets else path[0] if path else ""


def _divided_for(detail: str, target: Target | None) -> tuple[str, str]:
    if detail == REQUIRED_SAID:
        detail = "the cell is empty"
    before, accepted = divided(detail)
    return before, accepted or (target.accepted if target else "")


def _sentences(messages: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    if isinstance(messages, Mapping):
        for name, inner in messages.items():
            yield from _sentences(inner, path if name == "_schema" else (*path, str(name)))
    elif isinstance(messages, Sequence) and not isinstance(messages, str):
        for inner in messages:
            yield from _sentences(inner, path)
    else:
        yield path, str(messages)
