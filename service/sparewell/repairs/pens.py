"""Pens and their readings."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from sparewell.database.numbers import PEN_PREFIX, id_of
from sparewell.errors import Impossible, NotFound, Problem
from sparewell.extend.fields import Field, FieldType, Value
from sparewell.extend.host import Declarations
from sparewell.extend.values import ReadValue, ValueRefused, improbable, read_number, read_value
from sparewell.extend.work import Work
from sparewell.repairs.tables import Pen, Reading


@dataclass(frozen=True)
class NewPen:
    """What is said of a pen when it comes to the bench."""

    called: str
    filling_system: str
    materials: Sequence[str] = ()
    readings: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""


def find_pen(session: Session, number: str, pointer: str | None = None) -> Pen:
    """Return a pen by its number. Raises :class:`NotFound`, or Impossible at a pointer."""
    pen = session.get(Pen, id_of(PEN_PREFIX, number))
    if pen is not None:
        return pen
    detail = f"there is no pen {number!r}"
    raise NotFound(detail) if pointer is None else Impossible.at(pointer, detail)


def create_pen(work: Work, new: NewPen) -> Pen:
    """Put a pen on the bench, with its first readings. Raises :class:`Impossible`."""
    check_filling_system(work.declared, new.filling_system)
    readings = read_readings(work, new.readings)
    pen = Pen(
        called=new.called,
        filling_system=new.filling_system,
        materials=list(new.materials),
        note=new.note,
        created_at=work.now,
        readings=readings,
    )
    work.session.add(pen)
    work.session.flush()
    return pen


def change_pen(work: Work, pen: Pen, changes: Mapping[str, Any]) -> Pen:
    """Change what is said of a pen; jobs already opened keep their copy of the template."""
    if "filling_system" in changes:
        check_filling_system(work.declared, changes["filling_system"])
    for name, value in changes.items():
        setattr(pen, name, value)
    work.session.flush()
    return pen


def add_readings(work: Work, pen: Pen, raw: Mapping[str, Any]) -> Pen:
    """Add readings; the earlier ones stay. Raises :class:`Impossible`."""
    pen.readings.extend(read_readings(work, raw))
    work.session.flush()
    return pen


def check_filling_system(declared: Declarations, name: str) -> None:
    """Refuse a filling system that no plugin declares, naming those there are."""
    if name not in declared.filling_systems:
        raise Impossible.at(
            "/filling_system",
            f"there is no filling system {name!r}; there are {', '.join(declared.filling_systems)}",
        )


def readable_fields(declared: Declarations) -> dict[str, Field]:
    """Return everything that can be read off a pen: the measured inputs of every calculator."""
    return {
        declared_input.name: declared_input
        for calculator in declared.calculators.values()
        for declared_input in calculator.inputs
        if declared_input.measured
    }


def read_readings(work: Work, raw: Mapping[str, Any]) -> list[Reading]:
    """Return readings that may be kept. Raises :class:`Impossible` naming each that may not."""
    fields = readable_fields(work.declared)
    readings, problems = [], []
    for name, value in raw.items():
        pointer = f"/readings/{name}"
        if name not in fields:
            problems.append(Problem(pointer, _not_a_reading(name, fields)))
            continue
        try:
            read = read_value(fields[name], value)
        except ValueRefused as error:
            problems.append(Problem(pointer, str(error)))
            continue
        readings.append(_reading(work, fields[name], read))
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return readings


def _not_a_reading(name: str, fields: Mapping[str, Field]) -> str:
    close = difflib.get_close_matches(name, fields, n=1)
    guess = f"did you mean {close[0]}? " if close else ""
    return f"{name!r} is not a reading; {guess}Readings are {', '.join(sorted(fields))}"


def _reading(work: Work, described: Field, read: ReadValue) -> Reading:
    is_length = described.type is FieldType.LENGTH and isinstance(read.value, int)
    return Reading(
        name=described.name,
        value_nanometres=read.value if is_length else None,
        value_text=None if is_length else str(read.value),
        entered=read.entered,
        instrument=read.instrument,
        spread_nanometres=read.spread,
        spread_entered=read.spread_entered,
        actor=work.actor.token,
        person=work.actor.person,
        at=work.now,
    )


def present_readings(pen: Pen) -> dict[str, Reading]:
    """Return the latest reading of each name."""
    return {reading.name: reading for reading in sorted(pen.readings, key=lambda row: row.id)}


def value_of(reading: Reading, described: Field) -> Value | None:
    """Return a kept reading as a calculator takes it; None where the kinds no longer agree."""
    if described.type is FieldType.LENGTH:
        return reading.value_nanometres
    if reading.value_text is None:
        return None
    match described.type:
        case FieldType.NUMBER:
            return read_number(reading.value_text)
        case FieldType.INTEGER:
            return int(reading.value_text)
        case FieldType.FLAG:
            return reading.value_text == "True"
        case _:
            return reading.value_text


def reading_warnings(declared: Declarations, pen: Pen) -> list[str]:
    """Return a warning for each present reading outside the usual."""
    fields = readable_fields(declared)
    values = {
        name: reading.value_nanometres
        for name, reading in present_readings(pen).items()
        if reading.value_nanometres is not None and name in fields
    }
    return improbable((fields[name] for name in values), values)
