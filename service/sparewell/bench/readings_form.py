"""A form made from what a calculator says it takes, and the request made from the form."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sparewell.bench.typed import whole_or_text
from sparewell.errors import Problem
from sparewell.extend.declarations import Calculator
from sparewell.extend.fields import Field, FieldType

STEP = "."
_KEYPADS = {FieldType.INTEGER: "numeric", FieldType.NUMBER: "decimal"}
_YES = "yes"


@dataclass(frozen=True)
class FormField:
    """One field: what the calculator says of it, and what was typed into it."""

    name: str
    declared: Field
    is_asked_first: bool
    typed: str = ""
    fault: str = ""

    @property
    def keypad(self) -> str:
        """Which keys a phone should offer; a length may carry its unit, so all of them."""
        return _KEYPADS.get(self.declared.type, "")

    @property
    def is_open(self) -> bool:
        """Whether it stands in the open: what is asked first, and what was said of the rest."""
        return self.is_asked_first or bool(self.typed or self.fault)


@dataclass(frozen=True)
class ReadingsForm:
    """The fields of a calculator, those in the open first, and what is still needed."""

    fields: list[FormField]
    still_needed: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)

    @property
    def in_the_open(self) -> list[FormField]:
        """The fields that are seen at once."""
        return [each for each in self.fields if each.is_open]

    @property
    def further(self) -> list[FormField]:
        """The fields behind "more"."""
        return [each for each in self.fields if not each.is_open]

    @property
    def has_faults(self) -> bool:
        """Whether anything is wrong, and not only missing."""
        return bool(self.elsewhere) or any(each.fault for each in self.fields)

    @property
    def typed(self) -> list[tuple[str, str]]:
        """What was typed, by field."""
        return [(each.name, each.typed) for each in self.fields if each.typed]


def _flat(inputs: Iterable[Field]) -> Iterator[tuple[str, Field]]:
    for declared in inputs:
        if declared.type is FieldType.GROUP:
            for member in declared.members:
                title = f"{declared.title}: {member.title}"
                yield declared.name + STEP + member.name, replace(member, title=title)
        else:
            yield declared.name, declared


def form_of(calculator: Calculator, typed: Mapping[str, str]) -> ReadingsForm:
    """Return the form of a calculator as it was filled in."""
    first = calculator.asks_first
    fields = [
        FormField(
            name,
            declared,
            name in first if first else declared.required or declared.measured,
            typed.get(name, "").strip(),
        )
        for name, declared in _flat(calculator.inputs)
    ]
    places = {name: place for place, name in enumerate(first)}
    return ReadingsForm(sorted(fields, key=lambda each: places.get(each.name, len(places))))


def body_of(form: ReadingsForm) -> dict[str, Any]:
    """Return the request that a form stands for; what was left empty is left out."""
    body: dict[str, Any] = {}
    for each in form.fields:
        if not each.typed:
            continue
        group, step, member = each.name.partition(STEP)
        target = body.setdefault(group, {}) if step else body
        target[member or group] = _value(each)
    return body


def _value(each: FormField) -> bool | int | str:
    if each.declared.type is FieldType.FLAG:
        return each.typed == _YES
    return whole_or_text(each.typed) if each.declared.type is FieldType.INTEGER else each.typed


def with_faults(form: ReadingsForm, problems: Iterable[Problem]) -> ReadingsForm:
    """Return a form with each fault at its field; what is only missing is named, not blamed."""
    faults: dict[str, str] = {}
    for problem in problems:
        steps = problem.pointer.strip("/").split("/")
        named = [STEP.join(steps[:2]), steps[0]]
        known = {each.name for each in form.fields}
        name = next((each for each in named if each in known), "")
        faults.setdefault(name, problem.detail)
    needed = {name for name, fault in faults.items() if fault == "required"}
    fields = [
        replace(each, fault="" if each.name in needed else faults.get(each.name, ""))
        for each in form.fields
    ]
    return ReadingsForm(
        fields,
        [each.declared.title for each in fields if each.name in needed],
        [fault for name, fault in faults.items() if not name],
    )


def readings_of(form: ReadingsForm) -> dict[str, str]:
    """Return what was read off the pen, as a pen keeps it."""
    return {
        each.name: each.typed
        for each in form.fields
        if each.typed and each.declared.measured and STEP not in each.name
    }
