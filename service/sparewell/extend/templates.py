"""What a template of a repair must be like, whoever wrote it: a plugin, or a person.

Each fault is a JSON pointer into the template and a sentence that follows the name of what is at
fault, so that a plugin's author and a person at the bench read the same words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches

from sparewell.extend.declarations import (
    NAME,
    NAME_RULE,
    Calculator,
    FillingSystem,
    PartKind,
    TemplateNeed,
    TemplateReading,
    TemplateTest,
)
from sparewell.extend.fields import Field, FieldType
from sparewell.extend.values import ValueRefused, read_value

Fault = tuple[str, str]


def faults_inside(system: FillingSystem) -> Iterator[Fault]:
    """Yield what a template says against itself."""
    if not system.needs:
        yield "/needs", "has no needs"
    for position, need in enumerate(system.needs):
        yield from _of_quantities(f"/needs/{position}", need)
    yield from _of_groups(system)
    yield from _of_names("/readings", "reading", system.readings)
    yield from _of_names("/tests", "test", system.tests)
    for position, test in enumerate(system.tests):
        yield from _of_figure(f"/tests/{position}", test)


def _of_quantities(pointer: str, need: TemplateNeed) -> Iterator[Fault]:
    if need.quantity < 1:
        yield f"{pointer}/quantity", "a quantity is at least 1"
    if need.at_most is not None and need.at_most <= need.quantity:
        yield (
            f"{pointer}/at_most",
            (
                f"at most {need.at_most} of {need.kind!r} is no range: it must be more than the "
                f"quantity of {need.quantity}, or be left out"
            ),
        )


def _of_groups(system: FillingSystem) -> Iterator[Fault]:
    members = Counter(need.together for need in system.needs if need.together)
    for position, need in enumerate(system.needs):
        if members.get(need.together) == 1:
            yield (
                f"/needs/{position}/together",
                (
                    f"{need.kind!r} is replaced together with nothing: another need must say "
                    f"{need.together!r} too"
                ),
            )


def _of_names(pointer: str, what: str, items: Iterable[object]) -> Iterator[Fault]:
    seen = set()
    for position, item in enumerate(items):
        if not isinstance(item, TemplateReading | TemplateTest):
            yield f"{pointer}/{position}", f"a {what} is declared as a Template{what.capitalize()}"
        elif not NAME.fullmatch(item.name):
            yield f"{pointer}/{position}/name", f"the {what} {item.name!r}: {NAME_RULE}"
        elif item.name in seen:
            yield f"{pointer}/{position}/name", f"the {what} {item.name!r} stands twice"
        else:
            seen.add(item.name)


def _of_figure(pointer: str, test: TemplateTest) -> Iterator[Fault]:
    has_figure = test.at_least is not None or test.at_most is not None
    if has_figure != bool(test.unit):
        yield f"{pointer}/unit", f"the test {test.name!r}: a figure and its unit come together"
    if test.at_least is not None and test.at_most is not None and test.at_most < test.at_least:
        yield f"{pointer}/at_most", f"the test {test.name!r}: its two figures are crossed"


def faults_outside(
    system: FillingSystem, kinds: Mapping[str, PartKind], calculators: Mapping[str, Calculator]
) -> Iterator[Fault]:
    """Yield what a template names that is not there: kinds, calculators, inputs, readings."""
    measured = measured_inputs(calculators)
    for position, reading in enumerate(system.readings):
        if reading.name not in measured and not (reading.title and reading.how):
            yield (
                f"/readings/{position}/name",
                (
                    f"names the reading {reading.name!r}, which no calculator takes: a reading of "
                    "the system's own needs a title and how it is taken"
                ),
            )
    readings = frozenset(reading.name for reading in system.readings)
    for position, need in enumerate(system.needs):
        yield from need_faults(
            need, kinds, calculators, readings, f"/needs/{position}", given_to_all=system.given
        )
    wanted = {
        each.name: each
        for name in dict.fromkeys(need.calculator for need in system.needs)
        if name is not None and name in calculators
        for each in calculators[name].inputs
    }
    yield from _of_given(system.given, wanted, "/given", "the calculators of its needs")


def measured_inputs(calculators: Mapping[str, Calculator]) -> dict[str, Field]:
    """Return everything that some calculator reads off a pen."""
    return {
        each.name: each
        for calculator in calculators.values()
        for each in calculator.inputs
        if each.measured
    }


def need_faults(
    need: TemplateNeed,
    kinds: Mapping[str, PartKind],
    calculators: Mapping[str, Calculator],
    readings: frozenset[str],
    pointer: str = "",
    *,
    given_to_all: Mapping[str, object],
) -> Iterator[Fault]:
    """Yield what one need names that is not there; `readings` are those of its template."""
    measured = measured_inputs(calculators)
    lengths = readings - measured.keys() | {
        name for name, each in measured.items() if each.type is FieldType.LENGTH
    }
    kind = kinds.get(need.kind)
    calculator = calculators.get(need.calculator or "")
    if need.calculator is not None and calculator is None:
        fitting = ", ".join(each.name for each in calculators.values() if each.kind == need.kind)
        yield (
            f"{pointer}/calculator",
            f"wants {need.calculator!r}, a calculator no loaded plugin declares"
            + (f"; for {need.kind} there are {fitting}" if fitting else ""),
        )
    if kind is None:
        close = get_close_matches(need.kind, kinds, n=1)
        yield (
            f"{pointer}/kind",
            f"wants {need.kind!r}, a kind no loaded plugin declares; "
            + (f"did you mean {close[0]!r}?" if close else f"there are {', '.join(kinds)}"),
        )
    elif calculator is not None and calculator.fits_pieces and calculator.kind != need.kind:
        yield (
            f"{pointer}/calculator",
            f"wants {calculator.name!r}, which chooses among {calculator.kind}, for {need.kind!r}",
        )
    if kind is not None:
        yield from _of_materials(need, kind, pointer)
    if calculator is not None:
        yield from _of_calculator(need, calculator, lengths, pointer, given_to_all)
    elif kind is not None and need.calculator is None:
        if need.given:
            yield f"{pointer}/given", "gives inputs, and no calculator takes them"
        known = {dimension.name for dimension in kind.dimensions}
        yield from _of_reads(need, known, lengths, pointer)


def _of_materials(need: TemplateNeed, kind: PartKind, pointer: str) -> Iterator[Fault]:
    for position, material in enumerate(need.materials):
        if material in need.materials[:position]:
            yield f"{pointer}/materials/{position}", f"names the material {material!r} twice"
        elif material not in kind.materials:
            known = ", ".join(kind.materials) or "none"
            yield (
                f"{pointer}/materials/{position}",
                f"takes {material!r}, which is no material of {need.kind!r}; known are {known}",
            )


def _of_calculator(
    need: TemplateNeed,
    calculator: Calculator,
    lengths: frozenset[str],
    pointer: str,
    given_to_all: Mapping[str, object],
) -> Iterator[Fault]:
    if not calculator.fits_pieces:
        yield f"{pointer}/calculator", f"wants {calculator.name!r}, which chooses no pieces"
    inputs = {each.name: each for each in calculator.inputs}
    yield from _of_given(need.given, inputs, f"{pointer}/given", f"{calculator.name!r}")
    known = {
        name for name, each in inputs.items() if each.measured and each.type is FieldType.LENGTH
    }
    yield from _of_reads(need, known, lengths, pointer)
    for name, each in inputs.items():
        if each.required and not each.measured and name not in {*need.given, *given_to_all}:
            yield (
                f"{pointer}/given",
                f"wants {calculator.name!r}, which cannot do without {name!r}: give it, "
                + (f"one of {', '.join(each.choices)}" if each.choices else each.title),
            )


def _of_given(
    given: Mapping[str, object], inputs: Mapping[str, Field], pointer: str, whose: str
) -> Iterator[Fault]:
    for name, value in given.items():
        if name not in inputs:
            yield f"{pointer}/{name}", f"gives {name!r}, which is no input of {whose}"
            continue
        try:
            read_value(inputs[name], value)
        except ValueRefused as error:
            yield f"{pointer}/{name}", f"gives {name!r} as {value!r}: {error}"


def _of_reads(
    need: TemplateNeed, known: set[str], lengths: frozenset[str], pointer: str
) -> Iterator[Fault]:
    what = "a dimension of its kind" if need.calculator is None else "a length that it reads"
    for name, reading in need.reads.items():
        if name not in known:
            yield (
                f"{pointer}/reads/{name}",
                f"reads {name!r}, which is not {what}; those are {', '.join(sorted(known))}",
            )
        if reading not in lengths:
            yield (
                f"{pointer}/reads/{name}",
                f"takes {name!r} from {reading!r}, which is no length among its readings",
            )
