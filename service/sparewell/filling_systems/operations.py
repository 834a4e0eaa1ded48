"""Filling systems, shipped and the workshop's own: found, written, retired, copied into jobs.

A template is a frozen dataclass inside and a plain document outside: in a row of the workshop's
own systems, in the copy that a job keeps, and in the API.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.extend.declarations import (
    NAME,
    NAME_RULE,
    FillingSystem,
    Step,
    TemplateNeed,
    TemplateReading,
    TemplateTest,
)
from sparewell.extend.fields import Field
from sparewell.extend.host import Declarations
from sparewell.extend.templates import Fault, faults_inside, faults_outside, measured_inputs
from sparewell.filling_systems.tables import OwnFillingSystem
from sparewell.work import Work

SHIPPED, OWN = "shipped", "own"


@dataclass(frozen=True)
class Found:
    """A filling system, and where it comes from; `retired_at` and who are of an own one."""

    system: FillingSystem
    origin: str
    retired_at: datetime | None = None
    actor: str | None = None
    person: str | None = None
    changed_at: datetime | None = None

    @property
    def retired(self) -> bool:
        """Whether it is offered for new pens no more."""
        return self.retired_at is not None


@dataclass(frozen=True)
class ShownSystem:
    """A filling system, and how each of its readings is taken."""

    row: Found
    readings: Sequence[TemplateReading]


def shown_system(declared: Declarations, found: Found) -> ShownSystem:
    """Return a filling system as it is shown."""
    return ShownSystem(found, list(described(declared, found.system.readings).values()))


def document_of(system: FillingSystem) -> dict[str, Any]:
    """Return a template as a plain document, figures as texts."""
    document = asdict(system)
    for test in document["tests"]:
        for bound in ("at_least", "at_most"):
            if test[bound] is not None:
                test[bound] = format(test[bound], "f")
    return document


def system_of(document: Mapping[str, Any]) -> FillingSystem:
    """Return the template that a document holds; the document's shape has been checked."""
    return FillingSystem(
        name=document["name"],
        title=document["title"],
        needs=tuple(template_need(need) for need in document["needs"]),
        readings=tuple(_reading_of(reading) for reading in document["readings"]),
        consumables=tuple(document["consumables"]),
        steps=tuple(Step(**step) for step in document["steps"]),
        sources=tuple(document["sources"]),
        notes=tuple(document["notes"]),
        given=document["given"],
        tests=tuple(_test_of(test) for test in document["tests"]),
    )


def template_need(document: Mapping[str, Any]) -> TemplateNeed:
    """Return the need that a document holds; those of earlier releases name no materials."""
    return TemplateNeed(**{**document, "materials": tuple(document.get("materials", ()))})


def _reading_of(reading: Mapping[str, Any]) -> TemplateReading:
    return TemplateReading(**{**reading, "traps": tuple(reading["traps"])})


def _test_of(test: Mapping[str, Any]) -> TemplateTest:
    bounds = {
        name: None if test[name] is None else Decimal(test[name])
        for name in ("at_least", "at_most")
    }
    return TemplateTest(**{**test, **bounds})


def find_system(work: Work, name: str, pointer: str | None = None) -> Found:
    """Return a filling system, an own one first. Raises NotFound, or Impossible at a pointer."""
    found = systems_named(work, [name]).get(name)
    if found is not None:
        return found
    detail = f"there is no filling system {name!r}"
    if pointer is None:
        raise NotFound(detail)
    offered = [each.system.name for each in all_systems(work) if each.retired_at is None]
    raise Impossible.at(pointer, f"{detail}; there are {', '.join(offered)}")


def offered_system(work: Work, name: str) -> Found:
    """Return a system that a pen may be given. Raises :class:`Impossible`."""
    # Whoever retires it waits for the pen that gets it, or this for them.
    statement = select(OwnFillingSystem).where(OwnFillingSystem.name == name)
    statement = statement.with_for_update(key_share=True)
    work.session.scalars(statement.execution_options(populate_existing=True)).all()
    found = find_system(work, name, "/filling_system")
    if found.retired_at is not None:
        raise Impossible.at(
            "/filling_system", f"the filling system {name!r} was retired; take another"
        )
    return found


def systems_named(work: Work, names: Collection[str]) -> dict[str, Found]:
    """Return the systems of these names that there are; one statement however many."""
    shipped = work.declared.filling_systems
    found = {name: Found(shipped[name], SHIPPED) for name in names if name in shipped}
    statement = select(OwnFillingSystem).where(OwnFillingSystem.name.in_(names))
    return found | {row.name: _found(row) for row in work.session.scalars(statement)}


def all_systems(work: Work) -> list[Found]:
    """Return every filling system in the order of the names."""
    found = {
        name: Found(system, SHIPPED) for name, system in work.declared.filling_systems.items()
    } | {row.name: _found(row) for row in work.session.scalars(select(OwnFillingSystem))}
    return [found[name] for name in sorted(found)]


def _found(row: OwnFillingSystem) -> Found:
    return Found(
        system_of(row.document), OWN, row.retired_at, row.actor, row.person, row.changed_at
    )


def add_system(work: Work, system: FillingSystem) -> Found:
    """Write down a filling system of the workshop's own. Raises Impossible and Conflict."""
    if not NAME.fullmatch(system.name):
        raise Impossible.at("/name", f"{system.name!r}: {NAME_RULE}")
    refuse_faults(work.declared, system)
    if system.name in work.declared.filling_systems or _row(work.session, system.name):
        raise Conflict(
            f"there is already a filling system {system.name!r}",
            [Problem("/name", "taken; choose another name")],
        )
    row = OwnFillingSystem(
        name=system.name,
        document=document_of(system),
        actor=work.actor.token,
        person=work.actor.person,
        created_at=work.now,
        changed_at=work.now,
    )
    work.session.add(row)
    work.session.flush()
    return _found(row)


def own_row(session: Session, declared: Declarations, name: str) -> OwnFillingSystem:
    """Return an own system's row. Raises NotFound, and Conflict for a shipped one."""
    row = _row(session, name)
    if row is not None:
        return row
    if name in declared.filling_systems:
        raise Conflict(
            f"{name!r} comes with a plugin and cannot be changed: copy it under another name, "
            "change the copy, and add that"
        )
    raise NotFound(f"there is no filling system {name!r}")


def change_system(work: Work, row: OwnFillingSystem, changes: Mapping[str, Any]) -> Found:
    """Change members of an own system, or retire it; jobs keep the copy they were opened with."""
    retired = changes.get("retired", row.retired_at is not None)
    members = {name: value for name, value in changes.items() if name != "retired"}
    if members:
        system = system_of(row.document | members)
        refuse_faults(work.declared, system)
        row.document = document_of(system)
    if retired != (row.retired_at is not None):
        row.retired_at = work.now if retired else None
    row.actor, row.person, row.changed_at = work.actor.token, work.actor.person, work.now
    work.session.flush()
    return _found(row)


def refuse_faults(declared: Declarations, system: FillingSystem) -> None:
    """Refuse a template with faults, each located. Raises :class:`Impossible`."""
    refuse(
        f"{system.name!r}",
        [
            *faults_inside(system),
            *faults_outside(system, declared.kinds, declared.calculators),
        ],
    )


def refuse(what: str, faults: Sequence[Fault]) -> None:
    """Refuse what has faults, each located. Raises :class:`Impossible`."""
    if not faults:
        return
    more = f"; and {len(faults) - 1} more" if len(faults) > 1 else ""
    raise Impossible(
        f"{what} {faults[0][1]}{more}",
        [Problem(pointer, sentence) for pointer, sentence in faults],
    )


def _row(session: Session, name: str) -> OwnFillingSystem | None:
    return session.scalar(select(OwnFillingSystem).where(OwnFillingSystem.name == name))


def described(
    declared: Declarations, readings: Iterable[TemplateReading]
) -> dict[str, TemplateReading]:
    """Return readings with their titles and ways of taking filled in from the calculators."""
    measured = measured_inputs(declared.calculators)
    found = {}
    for reading in readings:
        field = measured.get(reading.name)
        found[reading.name] = replace(
            reading,
            title=reading.title or (field.title if field else reading.name),
            how=reading.how or (field.how if field else ""),
        )
    return found


def readings_of(declared: Declarations, template: Mapping[str, Any]) -> dict[str, TemplateReading]:
    """Return the readings of a job's copy; copies of the first release hold names alone."""
    readings = (
        TemplateReading(each) if isinstance(each, str) else _reading_of(each)
        for each in template["readings"]
    )
    return described(declared, readings)


def readable_fields(declared: Declarations, system: FillingSystem | None) -> dict[str, Field]:
    """Return what can be read off a pen: what any calculator takes, and its system's own."""
    measured = measured_inputs(declared.calculators)
    own = {
        reading.name: Field(reading.name, reading.title, measured=True, how=reading.how)
        for reading in (system.readings if system else ())
        if reading.name not in measured
    }
    return measured | own
