"""The calculator: until when a stored material should be fitted, by one scheme alone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from enum import StrEnum
from typing import Final

from sparewell.plugin import (
    COMMON_PRACTICE,
    AgeingRule,
    Answer,
    Calculator,
    Field,
    FieldType,
    Inputs,
    Output,
    OutputType,
    add_years,
)
from sparewell_rubber.dates import CountedFrom, counted_of
from sparewell_rubber.rules import (
    ARP_5316,
    ISO_2230,
    NO_RUBBER,
    Scheme,
    material_named,
    rule_for,
    schemes_with,
)

# The core's setting that dates the lots in stock: asked without a scheme, both agree.
STOCK_SCHEME: Final = "stock.ageing_scheme"

SOURCES: Final = (
    f"{ISO_2230}; the extension after an inspection, and the conditions of storage.",
    f"{ARP_5316}; its conditions of storage.",
    f"The workshop's own scheme: these two by material; soft PVC: {COMMON_PRACTICE}.",
    f"Thin walls age faster: {COMMON_PRACTICE}.",
)

CONDITIONS: Final = {
    Scheme.ISO_2230: (
        "Below 25 °C, away from heat; warmed through to about 30 °C before use if stored cold.",
        (
            "Dark, in opaque packing; no ozone (motors, lamps), no condensation, 65 % humidity at "
            "most where it is packed."
        ),
        "Lying loose, neither stretched nor pressed; no plasticised PVC film against rubber.",
    ),
    Scheme.ARP_5316: (
        "15 to 38 °C, below 75 % humidity.",
        "Dark, no ozone, not stretched, each in its bag with its cure date.",
    ),
    Scheme.WORKSHOP: (
        "Cool, dry and dark, loose in a closed bag with its date, away from motors and PVC.",
    ),
}


class StorageState(StrEnum):
    """What the dates say today."""

    IN_DATE = "in_date"
    INSPECT = "inspect"
    OVER_AGE = "over_age"
    NOT_LIMITED = "not_limited"
    UNKNOWN_DATE = "unknown_date"
    NO_RULE = "no_rule"


_DATES: Final = (
    "a day (2026-03-01), a month (2026-03), a quarter (2026-Q1, 1Q2026), a year (2026), or unknown"
)
INPUTS: Final = (
    Field(
        name="material",
        title="Material",
        type=FieldType.TEXT,
        help="latex, nbr, silicone, epdm, fkm, pvc, cork, or another name of a rubber.",
        required=True,
    ),
    Field(
        name="made_on",
        title="Made on",
        type=FieldType.TEXT,
        help=f"{_DATES[0].upper()}{_DATES[1:]}. Counted from the first day it may mean.",
    ),
    Field(
        name="received_on",
        title="Received on",
        type=FieldType.TEXT,
        help="When it came: counted from where the making date is unknown.",
    ),
    Field(
        name="scheme",
        title="Scheme",
        type=FieldType.CHOICE,
        help="Left out, the scheme that dates the workshop's stock.",
        choices=tuple(Scheme),
    ),
)

_TEXT: Final = OutputType.TEXT
OUTPUTS: Final = (
    Output("material", _TEXT, "The material as the rules know it."),
    Output("scheme", _TEXT, "The one scheme that was asked.", choices=tuple(Scheme)),
    Output("has_rule", OutputType.FLAG, "Whether the scheme has a rule for the material."),
    Output("years", OutputType.INTEGER, "Years of storage; null: none given.", nullable=True),
    Output(
        "extension_years", OutputType.INTEGER, "More after an inspection, if any.", nullable=True
    ),
    Output("made_on", _TEXT, "The making date in its normal form.", nullable=True),
    Output(
        "counted_from",
        _TEXT,
        "What the years are counted from.",
        nullable=True,
        choices=("made_on", "received_on"),
    ),
    Output("counted_from_day", _TEXT, "The first day that may mean.", nullable=True),
    Output("fit_by", _TEXT, "The last day on which it should be fitted.", nullable=True),
    Output("extended_to", _TEXT, "The last day after an inspection.", nullable=True),
    Output("over_age", OutputType.FLAG, "Whether fit_by is past; null: not told.", nullable=True),
    Output("days_left", OutputType.INTEGER, "Days until fit_by; negative past it.", nullable=True),
    Output("state", _TEXT, "What the dates say today.", choices=tuple(StorageState)),
    Output("source", _TEXT, "Where the rule is published.", nullable=True),
    Output("conditions", _TEXT, "How the scheme wants it stored.", many=True),
    Output("notes", _TEXT, "What the dates mean and do not mean.", many=True),
)


def compute(inputs: Inputs) -> Answer:
    """Answer until when a stored material should be fitted."""
    scheme = Scheme(inputs.text("scheme") or inputs.setting_text(STOCK_SCHEME))
    material = material_named(inputs.text("material") or "")
    rule = rule_for(scheme, material)
    counted = counted_of(inputs)
    fit_by, extended_to = _last_days(rule, counted.day)
    state = _state(rule, fit_by, extended_to, inputs.today)
    told = fit_by is not None or state is StorageState.NOT_LIMITED
    result = {
        "material": material,
        "scheme": scheme.value,
        "has_rule": rule is not None,
        "years": None if rule is None else rule.years,
        "extension_years": None if rule is None else rule.extension_years,
        "made_on": None if counted.made_on is None else counted.made_on.text,
        "counted_from": counted.source,
        "counted_from_day": None if counted.day is None else counted.day.isoformat(),
        "fit_by": None if fit_by is None else fit_by.isoformat(),
        "extended_to": None if extended_to is None else extended_to.isoformat(),
        "over_age": (fit_by is not None and fit_by < inputs.today) if told else None,
        "days_left": None if fit_by is None else (fit_by - inputs.today).days,
        "state": state.value,
        "source": None if rule is None else rule.source,
        "conditions": list(CONDITIONS[scheme]) if rule is not None else [],
        "notes": list(_notes(scheme, material, rule, counted)),
    }
    return Answer(
        result,
        warnings=tuple(_warnings(state, extended_to)),
        cautions=tuple(_cautions(material)),
    )


def _last_days(rule: AgeingRule | None, day: date | None) -> tuple[date | None, date | None]:
    """Return the last day by the rule, and after an inspection."""
    if rule is None or rule.years is None or day is None:
        return None, None
    fit_by = add_years(day, rule.years)
    if rule.extension_years is None:
        return fit_by, None
    return fit_by, add_years(day, rule.years + rule.extension_years)


def _state(
    rule: AgeingRule | None, fit_by: date | None, extended_to: date | None, today: date
) -> StorageState:
    """Return what the dates say on a day; the last day itself is still in date."""
    if rule is None:
        return StorageState.NO_RULE
    if rule.years is None:
        return StorageState.NOT_LIMITED
    if fit_by is None:
        return StorageState.UNKNOWN_DATE
    if today <= fit_by:
        return StorageState.IN_DATE
    if extended_to is not None and today <= extended_to:
        return StorageState.INSPECT
    return StorageState.OVER_AGE


def _notes(
    scheme: Scheme, material: str, rule: AgeingRule | None, counted: CountedFrom
) -> Iterator[str]:
    """Yield what the dates mean and do not mean."""
    if rule is None:
        yield from _without_rule(scheme, material)
    else:
        yield from _of_rule(scheme, rule)
        if counted.made_on is None and counted.received_on is not None:
            yield (
                "The making date is unknown: counted from receipt, and it may be older than that."
            )
        elif counted.made_on is not None and counted.made_on.earliest != counted.made_on.latest:
            yield f"Of {counted.made_on.text} the first day is counted from, as the worst case."
    yield (
        "This speaks of storage in the packet, not of life in a pen: once fitted, ink, heat, light "
        "and stretch decide."
    )
    if material not in NO_RUBBER:
        yield (
            "Thin walls age faster than thick ones of the same rubber, and the walls of sacs are "
            "thin: try one from the bag before it is fitted."
        )


def _without_rule(scheme: Scheme, material: str) -> Iterator[str]:
    """Yield that there is no rule, and who has one."""
    why = "; it is no rubber, and the standards do not speak of it" if material in NO_RUBBER else ""
    yield f"The scheme {scheme.value} has no rule for {material}{why}: so no date is given."
    others = schemes_with(material)
    if others:
        yield (
            f"{', '.join(others)} has one: ask by that scheme. Dates of different schemes are not "
            "comparable year for year, and none is borrowed here."
        )


def _of_rule(scheme: Scheme, rule: AgeingRule) -> Iterator[str]:
    """Yield what the rule grants."""
    if rule.years is None:
        yield f"The scheme {scheme.value} does not limit the storage of {rule.material}."
    if rule.extension_years is not None:
        yield (
            f"The further {rule.extension_years} years are granted only after a sample was "
            "inspected: no cracks, tack, hardening or set."
        )
    if scheme is Scheme.ISO_2230:
        yield "By the edition of 2002: check whether a newer one has changed its table."
    yield "Dates of different schemes are not comparable year for year: this one stands alone."


def _warnings(state: StorageState, extended_to: date | None) -> Iterator[str]:
    """Yield what should be done about the age."""
    if state is StorageState.OVER_AGE:
        yield "Over age: do not fit it."
    elif state is StorageState.INSPECT and extended_to is not None:
        yield (
            f"Past its first date: fit it only after inspecting a sample, until "
            f"{extended_to.isoformat()} at the latest."
        )
    elif state is StorageState.UNKNOWN_DATE:
        yield (
            "Neither making date nor receipt is known, so no date can be given: count it as over "
            "age for anything that matters."
        )
    elif state is StorageState.NO_RULE:
        yield "No rule, so nothing here says it is good: inspect it before it is fitted."


def _cautions(material: str) -> Iterator[str]:
    """Yield what can hurt while old rubber is inspected."""
    if material == "latex":
        yield (
            "Latex can cause allergy, from a rash to asthma, and its powder carries the protein: "
            "gloves without latex, no dust in the air."
        )
    if material == "pvc":
        yield "Soft PVC gives off plasticiser that melts celluloid and polystyrene: store it apart."
    yield "The supplier's safety sheet comes before anything said here."


SHELF_LIFE_CALCULATOR: Final = Calculator(
    name="shelf_life",
    title="Shelf life",
    help="Until when stored rubber should be fitted, by one scheme alone.",
    inputs=INPUTS,
    outputs=OUTPUTS,
    headline=("fit_by", "state"),
    compute=compute,
    sources=SOURCES,
)
