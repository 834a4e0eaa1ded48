"""Pens and their readings."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.database.numbers import PEN_PREFIX, id_of
from sparewell.edge.description import NewThing
from sparewell.errors import Impossible, NotFound, Problem
from sparewell.extend.declarations import FillingSystem
from sparewell.extend.fields import Field, FieldType, Value
from sparewell.extend.host import Declarations
from sparewell.extend.templates import measured_inputs
from sparewell.extend.values import (
    ReadValue,
    ValueRefused,
    improbable,
    read_number,
    read_value,
    swapped,
    wide_spread,
)
from sparewell.filling_systems.operations import offered_system, readable_fields, systems_named
from sparewell.pens import intake
from sparewell.pens.tables import Pen, Reading
from sparewell.work import Work


@dataclass(frozen=True)
class NewPen(NewThing):
    """What is said of a pen when it comes to the bench."""

    called: str
    filling_system: str
    materials: Sequence[str] = ()
    readings: Mapping[str, Any] = field(default_factory=dict)
    note: str = ""
    owner: str = ""
    accessories: str = ""
    condition: str = ""
    components: Sequence[Mapping[str, Any]] = ()
    model_note: str = ""
    cost: int | None = None
    might_fetch: int | None = None


def find_pen(session: Session, number: str, pointer: str | None = None) -> Pen:
    """Return a pen by its number. Raises :class:`NotFound`, or Impossible at a pointer."""
    pen = session.get(Pen, id_of(PEN_PREFIX, number))
    if pen is not None:
        return pen
    detail = f"there is no pen {number!r}"
    raise NotFound(detail) if pointer is None else Impossible.at(pointer, detail)


def pens_numbered(session: Session, numbers: Sequence[str]) -> list[Pen]:
    """Return pens by their numbers, each once. Raises NotFound for what there is not."""
    ids = {number: id_of(PEN_PREFIX, number) for number in numbers}
    rows = session.scalars(select(Pen).where(Pen.id.in_(ids.values())).order_by(Pen.id)).all()
    found = {pen.id for pen in rows}
    unknown = [repr(number) for number, pen_id in ids.items() if pen_id not in found]
    if unknown:
        raise NotFound(f"there is no pen {', '.join(unknown)}")
    return list(rows)


def create_pen(work: Work, new: NewPen) -> Pen:
    """Put a pen on the bench, with its first readings. Raises :class:`Impossible`."""
    pen = described_pen(work, new)
    work.session.add(pen)
    work.session.flush()
    return pen


def described_pen(work: Work, new: NewPen) -> Pen:
    """Return a pen as it is described, written nowhere yet. Raises :class:`Impossible`."""
    system = offered_system(work, new.filling_system).system
    readings = read_readings(work, new.readings, system)
    pen = Pen(
        called=new.called,
        filling_system=new.filling_system,
        materials=list(new.materials),
        note=new.note,
        created_at=work.now,
        readings=readings,
        **new.plain,
    )
    intake.write_down(pen, {name: getattr(new, name) for name in intake.OF_A_PEN}, work.now)
    return pen


@dataclass(frozen=True)
class ShownPen:
    """A pen, its readings that count, by name, all of them, and what is improbable of them."""

    row: Pen
    readings: Mapping[str, Reading]
    all_readings: Sequence[Reading]
    warnings: Sequence[str]


def shown_pen(work: Work, pen: Pen) -> ShownPen:
    """Return a pen as it is shown."""
    present = present_readings(pen)
    every = sorted(pen.readings, key=lambda row: row.id)
    return ShownPen(pen, present, every, reading_warnings(work.declared, present))


def change_pen(work: Work, pen: Pen, changes: Mapping[str, Any]) -> Pen:
    """Change what is said of a pen; jobs already opened keep their copy of the template."""
    if "filling_system" in changes:
        offered_system(work, changes["filling_system"])
    if changes.get("cost", pen.cost_minor) != pen.cost_minor:
        intake.refuse_bought_together(pen.number, pen.purchase_id)
    intake.write_down(pen, changes, work.now)
    work.session.flush()
    return pen


def add_readings(
    work: Work, pen: Pen, raw: Mapping[str, Any], corrects: int | None = None, why: str = ""
) -> Pen:
    """Add readings to a locked pen; the earlier ones stay, and one of them may be corrected.

    Raises :class:`Impossible`, and :class:`Conflict` for a reading that is corrected already.
    """
    new = readings_for(work, pen, raw)
    if corrects is None:
        pen.readings.extend(new)
    else:
        intake.correct_reading(work, pen, corrects, why, new)
    work.session.flush()
    return pen


def readings_for(work: Work, pen: Pen, raw: Mapping[str, Any]) -> list[Reading]:
    """Return readings that may be kept of a pen. Raises :class:`Impossible`."""
    found = systems_named(work, [pen.filling_system]).get(pen.filling_system)
    return read_readings(work, raw, found.system if found else None)


def read_readings(
    work: Work, raw: Mapping[str, Any], system: FillingSystem | None
) -> list[Reading]:
    """Return readings that may be kept. Raises :class:`Impossible` naming each that may not."""
    fields = readable_fields(work.declared, system)
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
    """Return the latest reading of each name that was not corrected."""
    return _latest(reading for reading in pen.readings if reading.correction is None)


def readings_at(pen: Pen, moment: datetime) -> dict[str, Reading]:
    """Return the readings as they stood at a moment, before any later correction."""
    return _latest(
        reading
        for reading in pen.readings
        if reading.at <= moment and (reading.correction is None or reading.correction.at > moment)
    )


def _latest(readings: Iterable[Reading]) -> dict[str, Reading]:
    return {reading.name: reading for reading in sorted(readings, key=lambda row: row.id)}


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


def reading_warnings(declared: Declarations, readings: Mapping[str, Reading]) -> list[str]:
    """Return what cannot well be true of readings that stand together; never a refusal.

    One function for everybody: the answers of the API, and so the pages, and an import's report.
    """
    fields = measured_inputs(declared.calculators)
    lengths = {
        name: reading.value_nanometres
        for name, reading in readings.items()
        if reading.value_nanometres is not None
    }
    known = [fields[name] for name in lengths if name in fields]
    titles = {each.name: each.title for each in known}
    spreads = (
        wide_spread(titles.get(name, name), value, readings[name].spread_nanometres)
        for name, value in lengths.items()
    )
    return [
        *improbable(known, lengths),
        *swapped(known, lengths, titles),
        *(each for each in spreads if each is not None),
    ]
