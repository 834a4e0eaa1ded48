"""How a repaired pen did in its tests, judged against their figures.

A fill is judged against what this very pen should take, where its readings tell that: a small pen
is not measured against a large one. Where they do not, the template's figure is mentioned only.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from sparewell.errors import Broken, Impossible, Problem
from sparewell.jobs.held import HeldPiece
from sparewell.jobs.inputs import missing_inputs, run_for, settled_beside
from sparewell.jobs.tables import Job
from sparewell.work import Work

_AMOUNT: Final = re.compile(r"\s*(\d{1,9}(?:[.,]\d{1,9})?)\s*(.{0,20}?)\s*", re.ASCII)


# Grams of water at room temperature are millilitres / 0.997: its density, from memory.
_OTHER_UNITS: Final[Mapping[str, Mapping[str, Decimal]]] = {
    "ml": {
        "cc": Decimal(1),
        "cm3": Decimal(1),
        "\N{GREEK SMALL LETTER MU}l": Decimal("0.001"),
        "ul": Decimal("0.001"),
        "g": 1 / Decimal("0.997"),
    }
}


@dataclass(frozen=True)
class _Bounds:
    """What passes; `is_typical` where the figure is one of pens in general."""

    least: Decimal | None
    most: Decimal | None
    whose: str
    is_typical: bool = False


def judged_tests(
    work: Work, job: Job, said: Sequence[Mapping[str, Any]], pieces: Sequence[HeldPiece]
) -> list[dict[str, Any]]:
    """Return each test with its amount and the judgement. Raises :class:`Impossible`.

    `pieces` are those that the job holds and that settle readings.

    A figure that is missed fails the test whatever was ticked; a test that a person saw fail has
    failed whatever the figure says.
    """
    declared = {test["name"]: test for test in job.template.get("tests", [])}
    found, problems = [], []
    for position, told in enumerate(said):
        test = declared.get(told["name"], {})
        unit = test.get("unit", "")
        result = dict(told)
        if unit and told.get("value"):
            amount = _amount(str(told["value"]), unit)
            if amount is None:
                detail = f"a number and its unit are wanted, such as '0.9 {unit}'"
                problems.append(Problem(f"/tests/{position}/value", detail))
                continue
            bounds = _bounds(work, job, test, pieces)
            result |= _judged(amount, unit, bounds, ticked=told.get("passed"))
        found.append(result)
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return found


def _amount(text: str, unit: str) -> Decimal | None:
    match = _AMOUNT.fullmatch(text)
    if match is None:
        return None
    number, named = Decimal(match[1].replace(",", ".")), match[2].casefold()
    if named in {"", unit.casefold(), unit.casefold().removesuffix("s")}:
        return number
    factor = _OTHER_UNITS.get(unit, {}).get(named)
    return None if factor is None else round(number * factor, 4)


def _judged(amount: Decimal, unit: str, bounds: _Bounds, *, ticked: bool | None) -> dict[str, Any]:
    shown = f"{amount.normalize():f} {unit}"
    if bounds.least is not None and amount < bounds.least:
        misses = f"{shown} is below the {bounds.least:f} {unit} {bounds.whose}"
    elif bounds.most is not None and amount > bounds.most:
        misses = f"{shown} is above the {bounds.most:f} {unit} {bounds.whose}"
    else:
        misses = ""
    passed = ticked
    if not bounds.is_typical and (bounds.least is not None or bounds.most is not None):
        passed = False if misses else ticked is not False
    return {"amount": f"{amount:f}", "unit": unit, "judged": misses, "passed": passed}


def _bounds(work: Work, job: Job, test: Mapping[str, Any], pieces: Sequence[HeldPiece]) -> _Bounds:
    least, most = (
        None if test.get(name) is None else Decimal(test[name]) for name in ("at_least", "at_most")
    )
    expected = test.get("expected", "")
    if not expected:
        return _Bounds(least, most, "that passes")
    own = next(_expected(work, job, expected, pieces), None)
    if own is not None:
        return _Bounds(own, most, "that this pen should reach by its readings")
    return _Bounds(
        least, most, "that is usual; what this pen should reach is unknown", is_typical=True
    )


def _expected(work: Work, job: Job, member: str, pieces: Sequence[HeldPiece]) -> Iterator[Decimal]:
    """Yield the low end of what the calculators of a job's needs expect of the pen."""
    for need in job.needs:
        if not need.is_wanted or need.calculator not in work.declared.calculators:
            continue
        try:
            run = run_for(work, job, need, settled_beside(work, job, need, pieces))
            if missing_inputs(run):
                continue
            answer = run.calculate(with_drawing=False).result.get(member)
        except (Impossible, Broken):
            continue
        if isinstance(answer, Mapping) and answer.get("low") is not None:
            yield Decimal(str(answer["low"]))
