"""What the pages say of bags, of what they measure and of what happened to them. Knows no HTTP."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from sparewell.bench.asking import every
from sparewell.bench.wording import spoken
from sparewell.measure.length import parse_length
from sparewell.measure.made_on import is_past
from sparewell.measure.wording import millimetres_text

# What a line of the ledger says happened; a verb that is not here is said as it is.
HAPPENED: Final[Mapping[str, str]] = {
    "arrived": "came in",
    "fitted": "fitted",
    "spoiled": "ruined at fitting",
    "counted": "counted",
    "discarded": "thrown away",
    "moved": "moved",
    "valued": "cost changed",
    "cut": "cut",
    "opened": "kit opened",
    "punched": "punched",
    "put_back": "put back",
    "undone": "undone",
    "stripped": "taken out of the donor",
    "checked": "looked at in the donor",
}


@dataclass(frozen=True)
class Bag:
    """One bag in a list."""

    id: int
    name: str
    place: str
    measures: str
    free: int
    promised: int
    in_hand: int
    fit_by: str | None
    is_over_age: bool
    condition: str | None
    donor: str | None


def kinds_by_name() -> dict[str, dict[str, Any]]:
    """Return every kind by its name."""
    return {kind["name"]: kind for kind in every("/v1/kinds", "kinds")}


def title_of(kinds: Mapping[str, Mapping[str, Any]], name: str) -> str:
    """Return what a kind is called; one whose plugin is absent is called by its name."""
    title = str(kinds[name]["title"]) if name in kinds else spoken(name)
    return title[:1].upper() + title[1:]


def bag_of(lot: Mapping[str, Any], kinds: Mapping[str, Mapping[str, Any]], today: date) -> Bag:
    """Return a bag as a list shows it."""
    return Bag(
        id=lot["id"],
        name=lot["part"] or title_of(kinds, lot["kind"]),
        place=lot["place"],
        measures=measures(lot, kinds),
        free=lot["available"],
        promised=lot["promised"],
        in_hand=lot["in_hand"],
        fit_by=lot["fit_by"],
        is_over_age=is_over_age(lot, today),
        condition=lot["condition"],
        donor=lot["donor"],
    )


def is_over_age(lot: Mapping[str, Any], today: date) -> bool:
    """Whether a bag should have been fitted by now."""
    fit_by = lot["fit_by"]
    return is_past(date.fromisoformat(fit_by) if fit_by else None, today)


def measures(lot: Mapping[str, Any], kinds: Mapping[str, Mapping[str, Any]]) -> str:
    """Say the dimension a kind is looked up by, and whether it was measured on the bag."""
    kind = kinds.get(lot["kind"])
    lead = kind["led_by"] if kind else next(iter(lot["dimensions"]), "")
    if lead not in lot["dimensions"]:
        return "not measured"
    basis = "measured" if lot["basis"][lead] == "measured" else "as catalogued"
    return f"{spoken(lead)} {caliper(lot['dimensions'][lead])}, {basis}"


def caliper(value: float) -> str:
    """Write millimetres to the micrometre, which is finer than any caliper at the bench."""
    return millimetres_text(parse_length(value))


def titles_of_dimensions(kind: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return a kind's dimensions, the one it is looked up by first."""
    found = [(each["name"], str(each["title"])) for each in kind["dimensions"]]
    return sorted(found, key=lambda each: each[0] != kind["led_by"])


def drawer_choices() -> list[tuple[str, str]]:
    """Return the drawers as choices."""
    return [
        (drawer["code"], f"{drawer['code']} {drawer['note']}".strip())
        for drawer in every("/v1/drawers", "drawers")
    ]


@dataclass(frozen=True)
class Event:
    """What happened to a bag at one time."""

    at: str
    sentence: str
    who: str
    note: str
    job: str | None
    group: int
    may_be_undone: bool


def events_of(movements: Sequence[Mapping[str, Any]]) -> list[Event]:
    """Return the ledger of a bag in plain words, newest first."""
    undone = {line["undoes"] for line in movements}
    return [_event(line, undone) for line in reversed(movements)]


def _event(line: Mapping[str, Any], undone: Iterable[int | None]) -> Event:
    is_undone = line["group"] in undone
    return Event(
        at=line["at"],
        sentence=_sentence(line) + (" (undone since)" if is_undone else ""),
        who=line["person"] or line["actor"],
        note=line["note"],
        job=line["job"],
        group=line["group"],
        may_be_undone=not is_undone
        and (line["reservation"] is None or line["verb"] == "spoiled")
        and line["verb"] not in {"undone", "valued", "stripped", "checked"},
    )


def _sentence(line: Mapping[str, Any]) -> str:
    happened = HAPPENED.get(line["verb"], spoken(line["verb"]))
    change, pieces = line["change"], line["pieces"]
    if line["verb"] == "counted":
        return f"counted: {change:+d}" if change else "counted: as expected"
    if line["verb"] == "valued":
        return f"{happened} by {line['cost_change']}"
    where = f" from {line['from_place']}" if line["from_place"] else ""
    where += f" to {line['place']}" if where else ""
    if change:
        return f"{change:+d} {happened}{where}"
    return f"{pieces} {happened}{where}"


@dataclass(frozen=True)
class Promise:
    """A reservation in the way of what was asked for."""

    reservation: int
    job: str
    bag: int | None
    detail: str


def promises_in_the_way(errors: Iterable[Mapping[str, Any]]) -> list[Promise]:
    """Return the promises that a refusal names, each once."""
    found = {
        int(error["reservation"]): Promise(
            int(error["reservation"]), str(error["job"]), error.get("lot"), str(error["detail"])
        )
        for error in errors
        if "reservation" in error and "job" in error
    }
    return list(found.values())
