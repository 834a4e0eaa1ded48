"""Donors: pens kept to be stripped, the checklist of what each has, and taking pieces out.

What is present, or not looked at yet, is a lot of one piece lying in the donor, so that the search,
promises and the ledger treat it like any other piece. Who has it now is never kept twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.catalogue.operations import kind_named
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, id_of, number_of
from sparewell.database.transaction import locked
from sparewell.donors import costs
from sparewell.donors.tables import Component, ComponentState, Donor
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.handling.freeing import locked_free, promised_problems, refuse_promised
from sparewell.handling.moving import moved_lines
from sparewell.handling.operations import taken_line
from sparewell.ledger.operations import LedgerLine, record
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.conditions import Condition, Confidence
from sparewell.lots.fixed import inside
from sparewell.lots.operations import (
    NewLot,
    described_lot,
    merged_attributes,
    set_measured,
)
from sparewell.lots.tables import Lot
from sparewell.measure.entered import EnteredLength
from sparewell.places.operations import create_donor_place, drawer_named
from sparewell.places.tables import Place
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

PIECES = (ComponentState.PRESENT, ComponentState.UNCHECKED)


@dataclass(frozen=True)
class NewComponent:
    """One line of a checklist; `part_of` counts within the list it comes in, from nought."""

    kind: str
    state: str = ComponentState.UNCHECKED
    measured: Mapping[str, EnteredLength] = field(default_factory=dict)
    attributes: Mapping[str, Any] = field(default_factory=dict)
    material: str | None = None
    part_of: int | None = None
    part_of_component: int | None = None
    value: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Fate:
    """What became of a component's piece: promised to a job, or gone, for which job and when."""

    promised_to: str | None = None
    reservation: int | None = None
    gone: str | None = None
    job: str | None = None
    at: datetime | None = None


def find_donor(session: Session, number: str) -> Donor:
    """Return a donor by its number. Raises :class:`NotFound`."""
    donor = session.get(Donor, id_of(DONOR_PREFIX, number))
    if donor is None:
        raise NotFound(f"there is no donor {number!r}")
    return donor


def find_component(session: Session, donor: Donor, component_id: int) -> Component:
    """Return a line of a donor's checklist. Raises :class:`NotFound`."""
    component = session.get(Component, component_id)
    if component is None or component.donor_id != donor.id:
        raise NotFound(f"{donor.number} has no component {component_id}")
    return component


def create_donor(
    work: Work,
    called: str,
    materials: Sequence[str] = (),
    components: Sequence[NewComponent] = (),
    note: str = "",
    pen_id: int | None = None,
    cost: int | None = None,
    might_fetch: int | None = None,
) -> Donor:
    """Keep a pen to be stripped, with what it has. Raises :class:`Impossible`."""
    donor = Donor(
        cost_minor=cost,
        might_fetch_minor=might_fetch,
        called=called,
        materials=list(materials),
        note=note,
        pen_id=pen_id,
        created_at=work.now,
        components=[],
    )
    work.session.add(donor)
    work.session.flush()
    create_donor_place(work, donor.number)
    return add_components(work, donor, components)


def add_components(work: Work, donor: Donor, new: Sequence[NewComponent], note: str = "") -> Donor:
    """Add lines to a donor's checklist; what is there becomes pieces that lie in the donor."""
    donor = locked(work.session, donor)
    costs.hold(work, donor)
    lines = lines_of(work, donor, new)
    if lines:
        record(work, note or f"a part of {donor.number}", *lines)
        costs.divide_anew(work, donor)
    work.session.expire(donor, ["components"])
    return donor


def lines_of(work: Work, donor: Donor, new: Sequence[NewComponent]) -> list[LedgerLine]:
    """Add lines to a donor's checklist and return those of the ledger, which are to be recorded."""
    donor = locked(work.session, donor)
    place = place_of(work.session, donor)
    made: list[Component] = []
    lines = []
    for position, each in enumerate(new):
        pointer = f"/components/{position}"
        holder = _holder(work, donor, made, each, pointer)
        component = Component(
            donor_id=donor.id,
            kind=kind_named(work.declared, each.kind, f"{pointer}/kind").name,
            state=each.state,
            part_of_id=holder.id if holder else None,
            attributes={},
            value_minor=each.value,
            note=each.note,
        )
        if each.state in PIECES:
            lot = _piece(work, donor, place, component, each, pointer)
            lot.part_of_lot_id = _holding_lot(work, place, holder, f"{pointer}/part_of")
            work.session.add(lot)
            work.session.flush()
            component.lot_id = lot.id
            lines.append(LedgerLine(lot, Verb.ARRIVED, 1, 1))
        else:
            kind = kind_named(work.declared, component.kind)
            component.attributes = merged_attributes(kind, {}, each.attributes, pointer)
        work.session.add(component)
        work.session.flush()
        made.append(component)
    return lines


def place_of(session: Session, donor: Donor) -> Place:
    """Return the place where a donor's pieces lie."""
    return session.scalars(select(Place).where(Place.code == donor.number)).one()


def _holder(
    work: Work, donor: Donor, made: Sequence[Component], new: NewComponent, pointer: str
) -> Component | None:
    """Return the component in which a new one is fixed."""
    if new.part_of is not None:
        if new.part_of >= len(made):
            raise Impossible.at(
                f"{pointer}/part_of",
                "must be the position, from 0, of a component that stands before it in this list",
            )
        return made[new.part_of]
    if new.part_of_component is None:
        return None
    try:
        return find_component(work.session, donor, new.part_of_component)
    except NotFound as error:
        raise Impossible.at(f"{pointer}/part_of_component", error.detail) from error


def _holding_lot(work: Work, place: Place, holder: Component | None, pointer: str) -> int | None:
    """Return the lot that a piece is fixed in; None where the holder is not in the donor."""
    if holder is None or holder.lot_id is None:
        return None
    lot = locked(work.session, work.session.get_one(Lot, holder.lot_id))
    if lot.in_hand == 0 or lot.place_id != place.id:
        return None
    if lot.promised:
        raise Conflict(
            f"bag {lot.id}, of which it is a part, is promised: release that first",
            promised_problems(work, lot, pointer),
        )
    return lot.id


def _piece(
    work: Work,
    donor: Donor,
    place: Place,
    component: Component,
    said: NewComponent,
    pointer: str,
) -> Lot:
    """Return the one piece that a component is, not yet added."""
    new = NewLot(
        measured=said.measured,
        attributes=said.attributes,
        material=said.material,
        material_confidence=Confidence.LABEL if said.material else Confidence.UNKNOWN,
        note=said.note,
    )
    return described_lot(
        work,
        kind_named(work.declared, component.kind, f"{pointer}/kind"),
        new,
        pointer,
        place=place,
        donor_id=donor.id,
        condition=Condition.UNCHECKED if component.state == ComponentState.UNCHECKED else None,
    )


def change_component(work: Work, component: Component, changes: Mapping[str, Any]) -> Component:
    """Change a line of the checklist: what was unchecked is looked at, what broke is written off.

    Raises :class:`Conflict` for a piece that was taken out, or that is promised.
    """
    component = locked(work.session, component)
    donor = work.session.get_one(Donor, component.donor_id)
    costs.hold(work, donor)
    if "note" in changes:
        component.note = changes["note"]
    if "value" in changes:
        component.value_minor = changes["value"]
    state = changes.get("state", component.state)
    if state != component.state or "measured" in changes or "attributes" in changes:
        _change_piece(work, donor, component, state, changes)
    component.state = state
    if {"state", "value"} & changes.keys():
        costs.divide_anew(work, donor)
    work.session.flush()
    work.session.expire(component)
    return component


def _change_piece(
    work: Work, donor: Donor, component: Component, state: str, changes: Mapping[str, Any]
) -> None:
    place = place_of(work.session, donor)
    note = changes.get("note", "")
    if component.lot_id is None and state in PIECES:
        _find_again(work, donor, component, state, note)
    if component.lot_id is None:
        if changes.get("measured"):
            raise Impossible.at("/measured", f"a {state} piece cannot be measured")
        kind = kind_named(work.declared, component.kind)
        said = changes.get("attributes", {})
        component.attributes = merged_attributes(kind, component.attributes, said)
        return
    lot = work.session.get_one(Lot, component.lot_id)
    fixed = [each for each in inside(work.session, [lot.id]) if each.part_of_lot_id == lot.id]
    locked_free(work, [lot, *fixed], ())
    _refuse_taken(component, lot, place)
    change = int(state in PIECES) - lot.in_hand
    if change < 0:
        refuse_promised(work, lot, 0)
        # What was fixed in it is still there, and on its own now.
        for each in fixed:
            each.part_of_lot_id = None
        work.session.flush()
    if change:
        record(work, note, taken_line(work, lot, Verb.CHECKED, change))
    lot.condition = ComponentState.UNCHECKED if state == ComponentState.UNCHECKED else None
    if changes.get("attributes"):
        kind = kind_named(work.declared, lot.kind)
        lot.attributes = merged_attributes(kind, lot.attributes, changes["attributes"])
    set_measured(work, lot, changes.get("measured", {}))


def _find_again(work: Work, donor: Donor, component: Component, state: str, note: str) -> None:
    """Make the piece of a component that was thought missing or damaged."""
    place = place_of(work.session, donor)
    said = NewComponent(component.kind, state, attributes=component.attributes, note=component.note)
    lot = _piece(work, donor, place, component, said, "")
    holder = work.session.get(Component, component.part_of_id) if component.part_of_id else None
    lot.part_of_lot_id = _holding_lot(work, place, holder, "/state")
    work.session.add(lot)
    work.session.flush()
    component.lot_id = lot.id
    record(work, note, LedgerLine(lot, Verb.CHECKED, 1, 1))


def _refuse_taken(component: Component, lot: Lot, place: Place) -> None:
    if lot.place_id != place.id:
        raise Conflict(
            f"bag {lot.id} was taken out of {place.code} and lies in {lot.place.code}; change the "
            "bag instead"
        )
    if lot.in_hand == 0 and component.state in PIECES:
        raise Conflict(f"bag {lot.id} was taken out of {place.code}; its movements say for what")


def strip(
    work: Work, donor: Donor, lot_ids: Sequence[int], drawer: str, note: str = ""
) -> list[Lot]:
    """Take components out of a donor and put them into a drawer, with what is fixed in them.

    Promised ones keep their promise. Each keeps its donor for ever.
    """
    donor = locked(work.session, donor)
    place = drawer_named(work.session, drawer)
    lots = []
    for position, lot_id in enumerate(lot_ids):
        lot = work.session.get(Lot, lot_id)
        if lot is None or lot.donor_id != donor.id:
            raise Impossible.at(f"/lots/{position}", f"bag {lot_id} is no part of {donor.number}")
        lots.append(lot)
    everything = locked_free(work, [*lots, *inside(work.session, lot_ids)], ())
    home = place_of(work.session, donor)
    gone = [lot for lot in everything if lot.place_id != home.id or lot.in_hand == 0]
    if gone:
        raise Conflict(
            f"not all of these are in {donor.number} any more, so nothing was taken out",
            [
                Problem(
                    "/lots",
                    f"bag {lot.id} lies in {lot.place.code}"
                    if lot.in_hand
                    else f"nothing of bag {lot.id} is left",
                    {"lot": lot.id},
                )
                for lot in gone
            ],
        )
    record(work, note, *moved_lines(work, everything, place))
    return everything


def fates(session: Session, components: Sequence[Component]) -> Mapping[int, Fate]:
    """Return by lot what became of it, out of the reservations and the ledger."""
    lot_ids = [component.lot_id for component in components if component.lot_id is not None]
    if not lot_ids:
        return {}
    found = {}
    went = (
        select(Movement)
        .join(Lot, Lot.id == Movement.lot_id)
        .where(Lot.id.in_(lot_ids), Lot.in_hand == 0, Movement.change < 0)
        .order_by(Movement.id)
    )
    for line in session.scalars(went).unique():
        job = number_of(JOB_PREFIX, line.job_id) if line.job_id else None
        found[line.lot_id] = Fate(gone=line.verb, job=job, at=line.act.at)
    held = select(Reservation).where(Reservation.lot_id.in_(lot_ids), Reservation.promised > 0)
    for row in session.scalars(held.order_by(Reservation.id)):
        found[row.lot_id] = Fate(number_of(JOB_PREFIX, row.job_id), row.id)
    return found
