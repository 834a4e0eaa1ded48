"""What can happen in the demo workshop; each is one operation that everybody's data goes through.

A doer is handed the unit of work, the line of the data file, and the ids of the rows that the
story has named so far; it returns the ids that it adds to them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from sqlalchemy.orm import Session

from sparewell.catalogue.operations import NewPart, create_part, find_part
from sparewell.closing.operations import Closing, close, prepare
from sparewell.database.numbers import PEN_PREFIX, number_of
from sparewell.donors import operations as donors
from sparewell.donors.operations import NewComponent
from sparewell.handling import operations as handling
from sparewell.jobs import operations as jobs
from sparewell.jobs import progress
from sparewell.jobs.tables import Job
from sparewell.lots import operations as lots
from sparewell.lots.tables import Lot
from sparewell.measure.money import parse_money
from sparewell.outcomes.operations import add_outcome
from sparewell.pens import operations as pens
from sparewell.pens.tables import Pen
from sparewell.photographs.operations import add_photograph
from sparewell.places.operations import create_drawer
from sparewell.plans import reserving
from sparewell.purchases.operations import create_purchase
from sparewell.purchases.tables import Division
from sparewell.reorder.operations import demand_of
from sparewell.reorder.policies import set_threshold
from sparewell.reservations import operations as reservations
from sparewell.reservations.lapsing import lapse_expired
from sparewell.reservations.tables import Reservation
from sparewell.settings.operations import change_setting, present_values
from sparewell.suppliers import operations as suppliers
from sparewell.timers import operations as waiting
from sparewell.timers.operations import Wait
from sparewell.work import Work
from sparewell_demo_seed.drawing import draw_pen
from sparewell_demo_seed.files import lengths_in

Line = Mapping[str, Any]
Known = Mapping[tuple[str, ...], int]
Doer = Callable[[Work, Line, Known], Known]

_NOTHING: Known = MappingProxyType({})


def _make_drawer(work: Work, line: Line, _known: Known) -> Known:
    create_drawer(work, line["code"], line["note"])
    return _NOTHING


def _make_part(work: Work, line: Line, _known: Known) -> Known:
    create_part(
        work,
        NewPart(
            number=line["number"],
            kind=line["kind"],
            name=line["name"],
            material=line["material"],
            note=line["note"],
            dimensions=lengths_in(line["dimensions"]),
        ),
    )
    return _NOTHING


def _take_in(work: Work, line: Line, _known: Known) -> Known:
    lot = handling.arrive(
        work,
        lots.NewLot(
            part=line["part"],
            drawer=line["drawer"],
            quantity=int(line["quantity"]),
            measured=lengths_in(line["measured"]),
            material=line["material"] or None,
            material_confidence=line["confidence"],
            label=line["label"] or None,
            made_on=line["made_on"],
            cost=parse_money(line["cost"]) if line["cost"] else None,
            note=line["note"],
        ),
    )
    return {("lot", line["key"]): lot.id} if line["key"] else _NOTHING


def _count(work: Work, line: Line, known: Known) -> Known:
    handling.count(work, _lot(work.session, line, known), line["quantity"], line["note"])
    return _NOTHING


def _discard(work: Work, line: Line, known: Known) -> Known:
    handling.discard(work, _lot(work.session, line, known), line["quantity"], line["note"])
    return _NOTHING


def _move(work: Work, line: Line, known: Known) -> Known:
    handling.move(work, _lot(work.session, line, known), line["drawer"], None, line["note"])
    return _NOTHING


def _change_setting(work: Work, line: Line, _known: Known) -> Known:
    change_setting(work, line["setting"], line["value"], line["note"])
    return _NOTHING


def _lapse(work: Work, _line: Line, _known: Known) -> Known:
    lapse_expired(work)
    return _NOTHING


def _bring_pen(work: Work, line: Line, _known: Known) -> Known:
    new = pens.NewPen(
        called=line["called"],
        filling_system=line["filling_system"],
        materials=line["materials"],
        readings=line["readings"],
        note=line["note"],
    )
    return {("pen", line["called"]): pens.create_pen(work, new).id}


def _add_readings(work: Work, line: Line, known: Known) -> Known:
    pens.add_readings(work, _pen(work.session, line, known), line["readings"])
    return _NOTHING


def _open_job(work: Work, line: Line, known: Known) -> Known:
    job = jobs.open_job(work, _pen(work.session, line, known), line.get("note", ""))
    return {("job", line["called"]): job.id}


def _reserve_best(work: Work, line: Line, known: Known) -> Known:
    job = _job(work.session, line, known)
    return _made(reserving.reserve(work, job, note=line.get("note", "")), line, known)


def _reserve_lot(work: Work, line: Line, known: Known) -> Known:
    made = reserving.reserve(
        work,
        _job(work.session, line, known),
        lot=known["lot", line["lot"]],
        quantity=line.get("quantity"),
        note=line.get("note", ""),
        override=line.get("override"),
    )
    return _made(made, line, known)


def _close_job(work: Work, line: Line, known: Known) -> Known:
    outcomes = [
        {
            "reservation": known["reservation", line["called"], str(place)],
            "outcome": outcome,
            "note": "",
        }
        for place, outcome in enumerate(line.get("outcomes", ()), 1)
    ]
    said = Closing(outcomes, glue=line.get("glue"), note=line["note"], anyway=line.get("anyway"))
    job = _job(work.session, line, known)
    for position in range(1, len(job.template["steps"]) + 1):
        if position not in progress.standing(job):
            progress.mark_step(work, job, position, "", is_done=True)
    close(work, job, prepare(work, job, ()), said)
    return _NOTHING


def _tell_outcome(work: Work, line: Line, known: Known) -> Known:
    reservation_id = known["reservation", line["called"], str(line["reservation"])]
    reservation = work.session.get_one(Reservation, reservation_id)
    add_outcome(work, reservation, line["outcome"], line["note"])
    return _NOTHING


def _wait(work: Work, line: Line, known: Known) -> Known:
    waiting.set_timer(
        work, _job(work.session, line, known), line["what"], Wait(None, line["minutes"])
    )
    return _NOTHING


def _photograph(work: Work, line: Line, known: Known) -> Known:
    red, green, blue = line["colour"]
    picture = draw_pen((red, green, blue))
    add_photograph(work, _pen(work.session, line, known), picture, line["note"], work.now.date())
    return _NOTHING


def _keep_donor(work: Work, line: Line, _known: Known) -> Known:
    components = [
        NewComponent(**{**each, "measured": lengths_in(each.get("measured", ""))})
        for each in line["components"]
    ]
    donors.create_donor(work, line["called"], line["materials"], components, line["note"])
    return _NOTHING


def _buy_together(work: Work, line: Line, known: Known) -> Known:
    lines = [
        {"pen": number_of(PEN_PREFIX, known["pen", called]), "value": parse_money(value)}
        for called, value in line["pens"].items()
    ]
    said = {
        "bought_from": line["from"],
        "bought_on": work.now.date(),
        "price": parse_money(line["price"]),
        "postage": parse_money(line["postage"]),
        "divided": Division.BY_VALUE,
        "note": line["note"],
    }
    create_purchase(work, {**said, "lines": lines})
    return _NOTHING


def _note_supplier(work: Work, line: Line, _known: Known) -> Known:
    minimum, free_from = line.get("minimum_order"), line.get("free_postage_from")
    supplier = suppliers.create_supplier(
        work,
        {
            "name": line["name"],
            "postage": parse_money(line["postage"]),
            "free_postage_from": parse_money(free_from) if free_from else None,
            "minimum_order": parse_money(minimum) if minimum else None,
            "lead_days": line["lead_days"],
            "lead_spread_days": 0,
            "note": line["note"],
        },
    )
    for offer in line["offers"]:
        prices = [
            {"packs": int(packs), "price": parse_money(price)} for packs, price in offer["prices"]
        ]
        sold = {"item_number": "", "minimum_pieces": 1, "note": ""}
        suppliers.create_offer(work, supplier, sold | {**offer, "prices": prices})
    return _NOTHING


def _set_threshold(work: Work, line: Line, _known: Known) -> Known:
    if work.declared.threshold_table is not None:
        settings = present_values(work.session, work.declared)
        part = find_part(work.session, line["part"])
        demand = demand_of(work, part, settings)
        set_threshold(
            work, part.id, line["policy"], line["parameters"], line["note"], demand, settings
        )
    return _NOTHING


def _cancel_job(work: Work, line: Line, known: Known) -> Known:
    jobs.cancel_job(work, _job(work.session, line, known), line["note"])
    return _NOTHING


def _on_reservation(verb: Callable[[Work, int, int | None, str], object]) -> Doer:
    """Return the doer of what is done with the pieces of one reservation."""

    def do(work: Work, line: Line, known: Known) -> Known:
        reservation_id = known["reservation", line["called"], str(line["reservation"])]
        verb(work, reservation_id, line.get("quantity"), line.get("note", ""))
        return _NOTHING

    return do


def _made(made: Sequence[Reservation], line: Line, known: Known) -> Known:
    """Return the new reservations under the pen's name and their place in its story."""
    before = sum(1 for key in known if key[:2] == ("reservation", line["called"]))
    return {
        ("reservation", line["called"], str(place)): reservation.id
        for place, reservation in enumerate(made, before + 1)
    }


def _lot(session: Session, line: Line, known: Known) -> Lot:
    return lots.find_lot(session, known["lot", line["lot"]])


def _pen(session: Session, line: Line, known: Known) -> Pen:
    return session.get_one(Pen, known["pen", line["called"]])


def _job(session: Session, line: Line, known: Known) -> Job:
    return session.get_one(Job, known["job", line["called"]])


DOERS: Mapping[str, Doer] = MappingProxyType(
    {
        "make_drawer": _make_drawer,
        "make_part": _make_part,
        "take_in": _take_in,
        "count": _count,
        "discard": _discard,
        "move": _move,
        "change_setting": _change_setting,
        "lapse": _lapse,
        "bring_pen": _bring_pen,
        "add_readings": _add_readings,
        "open_job": _open_job,
        "reserve_best": _reserve_best,
        "reserve_lot": _reserve_lot,
        "fetch": _on_reservation(reservations.fetch),
        "use": _on_reservation(reservations.use),
        "spoil": _on_reservation(reservations.spoil),
        "close_job": _close_job,
        "tell_outcome": _tell_outcome,
        "wait": _wait,
        "photograph": _photograph,
        "keep_donor": _keep_donor,
        "buy_together": _buy_together,
        "cancel_job": _cancel_job,
        "note_supplier": _note_supplier,
        "set_threshold": _set_threshold,
    }
)
