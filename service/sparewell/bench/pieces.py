"""What the pages say of bags, of what they measure and of what happened to them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from sqlalchemy import ColumnElement, select

from sparewell.bench.wording import spoken
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, number_of
from sparewell.edge.context import work
from sparewell.errors import Problem
from sparewell.extend.declarations import PartKind
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.ageing import FitBy, fit_by
from sparewell.lots.claims import basis
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.money import money_text
from sparewell.measure.wording import millimetres_text
from sparewell.places.tables import Place, PlaceType
from sparewell.plans.undoing import may_be_undone
from sparewell.settings.operations import present_values

# What a line of the ledger says happened; a verb that is not here is said as it is.
HAPPENED: Final[Mapping[str, str]] = {
    Verb.ARRIVED: "came in",
    Verb.FITTED: "fitted",
    Verb.SPOILED: "ruined at fitting",
    Verb.COUNTED: "counted",
    Verb.DISCARDED: "thrown away",
    Verb.MOVED: "moved",
    Verb.VALUED: "cost changed",
    Verb.CUT: "cut",
    Verb.OPENED: "kit opened",
    Verb.PUNCHED: "punched",
    Verb.PUT_BACK: "put back",
    Verb.UNDONE: "undone",
    Verb.STRIPPED: "taken out of the donor",
    Verb.CHECKED: "looked at in the donor",
}


@dataclass(frozen=True)
class ListedBag:
    """One bag in a list."""

    id: int
    name: str
    place: str
    measures: str
    free: int
    promised: int
    in_hand: int
    fit_by: date | None
    is_over_age: bool
    condition: str | None
    donor: str | None


def title_of(name: str) -> str:
    """Return what a kind is called; one whose plugin is absent is called by its name."""
    kind = work().declared.kinds.get(name)
    title = kind.title if kind else spoken(name)
    return title[:1].upper() + title[1:]


def choices_of_kinds() -> list[tuple[str, str]]:
    """Return the kinds as choices, by what they are called."""
    found = [(name, title_of(name)) for name in work().declared.kinds]
    return sorted(found, key=lambda each: each[1].lower())


def name_of_lot(lot: Lot) -> str:
    """Return what a bag is called: by its part, else by its kind."""
    return lot.part.number if lot.part else title_of(lot.kind)


def ages_of(lots: Iterable[Lot]) -> dict[int, FitBy]:
    """Return by bag until when it should be fitted."""
    declared = work().declared
    settings = present_values(work().session, declared)
    return {lot.id: fit_by(lot, declared, settings) for lot in lots}


def bags_of(lots: Sequence[Lot]) -> list[ListedBag]:
    """Return bags as a list shows them."""
    ages, today = ages_of(lots), work().now.date()
    return [
        ListedBag(
            id=lot.id,
            name=name_of_lot(lot),
            place=lot.place.code,
            measures=measures(lot),
            free=lot.available,
            promised=lot.promised,
            in_hand=lot.in_hand,
            fit_by=ages[lot.id].day,
            is_over_age=ages[lot.id].is_past(today),
            condition=lot.condition,
            donor=number_of(DONOR_PREFIX, lot.donor_id) if lot.donor_id else None,
        )
        for lot in lots
    ]


def measures(lot: Lot) -> str:
    """Say the dimension a kind is looked up by, and whether it was measured on the bag."""
    kind, known = work().declared.kinds.get(lot.kind), lot.dimensions
    lead = kind.led_by if kind else next(iter(known), "")
    if lead not in known:
        return "not measured"
    how = "measured" if basis(lot)[lead] == "measured" else "as catalogued"
    return f"{spoken(lead)} {millimetres_text(known[lead])}, {how}"


def titles_of_dimensions(kind: PartKind) -> list[tuple[str, str]]:
    """Return a kind's dimensions, the one it is looked up by first."""
    found = [(each.name, DIMENSIONS[each.name]) for each in kind.dimensions]
    return sorted(found, key=lambda each: each[0] != kind.led_by)


def drawer_choices() -> list[tuple[str, str]]:
    """Return the drawers as choices."""
    statement = (
        select(Place.code, Place.note).where(Place.type == PlaceType.DRAWER).order_by(Place.id)
    )
    return [(code, f"{code} {note}".strip()) for code, note in work().session.execute(statement)]


@dataclass(frozen=True)
class BagEvent:
    """What happened to a bag at one time."""

    at: datetime
    sentence: str
    who: str
    note: str
    job: str | None
    group: int
    may_be_undone: bool


def events_of(movements: Sequence[Movement]) -> list[BagEvent]:
    """Return the ledger of a bag in plain words, newest first."""
    undone = {line.act.undoes_act_id for line in movements}
    return [_event(line, undone) for line in reversed(movements)]


def _event(line: Movement, undone: Collection[int | None]) -> BagEvent:
    is_undone = line.act_id in undone
    sentence = _sentence(line)
    job = number_of(JOB_PREFIX, line.job_id) if line.job_id else None
    return BagEvent(
        at=line.act.at,
        sentence=sentence + (" (undone since)" if is_undone else ""),
        who=line.act.person or line.act.actor,
        note=line.act.note,
        # A job's tray is called like the job.
        job=None if job and job in sentence else job,
        group=line.act_id,
        may_be_undone=not is_undone and may_be_undone(line),
    )


def _sentence(line: Movement) -> str:
    happened = HAPPENED.get(line.verb, spoken(line.verb))
    if line.verb == Verb.COUNTED:
        return f"counted: {line.change:+d}" if line.change else "counted: as expected"
    if line.verb == Verb.VALUED:
        return f"{happened} by {money_text(line.cost_change_minor)}"
    where = f" from {line.from_place.code} to {line.place.code}" if line.from_place else ""
    pieces = f"{line.change:+d}" if line.change else str(line.pieces)
    return f"{pieces} {happened}{where}"


def way_back(*conditions: ColumnElement[bool]) -> str:
    """Return what a notice names to undo the latest of these movements; nothing without any."""
    statement = select(Movement.act_id).where(*conditions).order_by(Movement.id.desc()).limit(1)
    group = work().session.scalar(statement)
    return f"group-{group}" if group else ""


@dataclass(frozen=True)
class PromiseInTheWay:
    """A reservation in the way of what was asked for."""

    reservation: int
    job: str
    bag: int | None


def promises_in_the_way(problems: Iterable[Problem]) -> list[PromiseInTheWay]:
    """Return the promises that a refusal names, each once."""
    found = {
        each.more["reservation"]: PromiseInTheWay(
            each.more["reservation"], each.more["job"], each.more.get("lot")
        )
        for each in problems
        if "reservation" in each.more and "job" in each.more
    }
    return list(found.values())
