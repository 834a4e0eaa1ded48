"""Lots: their arrival, what is measured on them, and what is done with the pieces that lie free."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, lazyload

from sparewell.catalogue.operations import (
    checked_dimensions,
    contradiction,
    find_part,
    kind_named,
    known_material,
    refuse_contradictions,
    set_dimensions,
)
from sparewell.catalogue.tables import Part, column_of
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.extend.declarations import PartKind
from sparewell.extend.values import ValueRefused, read_value
from sparewell.extend.work import Work
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength
from sparewell.measure.made_on import MadeOn
from sparewell.measure.money import take_share
from sparewell.stock.claims import basis, claimed, derived, how_measured
from sparewell.stock.fixed import inside, moved_lines
from sparewell.stock.freeing import (
    locked_free,
    refuse_holder,
    refuse_lack,
    refuse_promised,
    split_off,
    take_out,
)
from sparewell.stock.ledger import Line, change_balance, record
from sparewell.stock.places import drawer_named
from sparewell.stock.tables import Lot

CONFIDENCES = ("label", "tested", "unknown")
MOST_IN_A_LOT = 1_000_000


@dataclass(frozen=True)
class NewLot:
    """What is said of pieces that came together."""

    part: str
    drawer: str
    quantity: int
    measured: Mapping[str, EnteredLength] = field(default_factory=dict)
    attributes: Mapping[str, Any] = field(default_factory=dict)
    material: str | None = None
    material_confidence: str | None = None
    label: str | None = None
    made_on: MadeOn | None = None
    cost: int | None = None
    note: str = ""


def find_lot(session: Session, lot_id: int) -> Lot:
    """Return a lot by its id. Raises :class:`NotFound`."""
    lot = session.get(Lot, lot_id)
    if lot is None:
        raise NotFound(f"there is no lot {lot_id}")
    return lot


def arrive(work: Work, new: NewLot) -> Lot:
    """Take pieces in. Raises :class:`Impossible`."""
    lot = unrecorded_lot(work, new)
    record_arrival(work, [lot], new.note)
    return lot


def record_arrival(work: Work, lots: Sequence[Lot], note: str) -> int:
    """Write into the ledger that new lots came, all in one act; return the act's id."""
    lines = [
        Line(lot, "arrived", lot.in_hand, lot.in_hand, cost_change_minor=lot.cost_minor or 0)
        for lot in lots
    ]
    return record(work, note, *lines)[0].act_id


def unrecorded_lot(work: Work, new: NewLot) -> Lot:
    """Make a lot, which :func:`record_arrival` has to be told of. Raises :class:`Impossible`."""
    try:
        part = find_part(work.session, new.part)
    except NotFound as error:
        raise Impossible.at("/part", f"{error.detail}; POST /v1/parts makes one") from error
    place = drawer_named(work.session, new.drawer)
    lot = described_lot(work, part, new)
    lot.place = place
    work.session.add(lot)
    work.session.flush()
    return lot


def described_lot(work: Work, part: Part, new: NewLot) -> Lot:
    """Return pieces as they are described, lying nowhere yet. Raises :class:`Impossible`."""
    kind = kind_named(work.declared, part.kind, "/part")
    lot = Lot(
        kind=part.kind,
        part=part,
        label=new.label,
        material=known_material(kind, new.material) if new.material else part.material,
        arrived_at=work.now,
        note=new.note,
        cost_minor=new.cost,
        in_hand=new.quantity,
        promised=0,
        has_available=True,
        measured={},
        measured_how={},
        attributes=merged_attributes(kind, {}, new.attributes),
    )
    lot.material_confidence = new.material_confidence or ("label" if lot.material else "unknown")
    _set_made_on(lot, new.made_on, work.now.date())
    set_measured(work, lot, new.measured)
    return lot


def change_lot(work: Work, lot: Lot, changes: Mapping[str, object]) -> Lot:
    """Change what a locked lot says; `measured` is merged, a null takes one reading away."""
    kind = work.declared.kinds.get(lot.kind)
    for name in ("label", "note", "material_confidence"):
        if name in changes:
            setattr(lot, name, changes[name])
    attributes = changes.get("attributes")
    if isinstance(attributes, Mapping) and kind is not None:
        lot.attributes = merged_attributes(kind, lot.attributes, attributes)
    if "material" in changes:
        text = changes["material"]
        lot.material = known_material(kind, str(text)) if kind and text else None
    if "made_on" in changes:
        made_on = changes["made_on"]
        _set_made_on(lot, made_on if isinstance(made_on, MadeOn) else None, work.now.date())
    measured = changes.get("measured")
    if isinstance(measured, Mapping) or ("label" in changes and kind is not None):
        set_measured(work, lot, measured if isinstance(measured, Mapping) else {})
    if "cost" in changes:
        _change_cost(work, lot, changes["cost"])
    work.session.flush()
    return lot


def _change_cost(work: Work, lot: Lot, cost: object) -> None:
    if cost is None:
        raise Impossible.at("/cost", "a cost can be changed, not taken away")
    assert isinstance(cost, int)  # noqa: S101 - the schema reads money as minor units
    before = lot.cost_minor or 0
    lot.cost_minor = cost
    record(work, "cost changed", Line(lot, "valued", 0, 0, cost_change_minor=cost - before))


def follow_part(work: Work, part: Part) -> None:
    """Give the lots of a changed part its nominal dimensions where they were not measured."""
    statement = (
        select(Lot)
        .options(lazyload("*"))  # as in `locked`: a lot that moves meanwhile would be left out
        .where(Lot.part_id == part.id)
        .order_by(Lot.id)
        .with_for_update(key_share=True, of=Lot)
        .execution_options(populate_existing=True)
    )
    for lot in work.session.scalars(statement):
        kind = work.declared.kinds.get(lot.kind)
        _write_dimensions(lot, kind, measured_nanometres(lot), "/dimensions")


def measured_nanometres(lot: Lot) -> dict[str, int]:
    """Return the dimensions that were measured on a lot, in nanometres."""
    return {name: getattr(lot, column_of(name)) for name in DIMENSIONS if name in lot.measured}


def merged_attributes(
    kind: PartKind, present: Mapping[str, Any], changes: Mapping[str, Any]
) -> dict[str, Any]:
    """Return a lot's attributes after a change; a null takes one away. Raises Impossible."""
    described = {attribute.name: attribute for attribute in kind.attributes}
    merged, problems = dict(present), []
    for name, raw in changes.items():
        if name not in described:
            known = ", ".join(described) or "none"
            detail = f"{name!r} is no attribute of a {kind.title}; it has {known}"
        elif raw is None:
            merged.pop(name, None)
            continue
        else:
            try:
                value = read_value(described[name], raw).value
            except ValueRefused as error:
                detail = str(error)
            else:
                merged[name] = value if isinstance(value, int | bool) else str(value)
                continue
        problems.append(Problem(f"/attributes/{name}", detail))
    if problems:
        raise Impossible("; ".join(problem.detail for problem in problems[:3]), problems)
    return merged


def set_measured(
    work: Work,
    lot: Lot,
    changes: Mapping[str, EnteredLength | None],
    pointer: str = "/measured",
) -> None:
    """Write what was measured on a lot; a null takes one reading away. Raises Impossible."""
    kind = kind_named(work.declared, lot.kind, "/part")
    present = {name: length for name, length in changes.items() if length is not None}
    unmeasured = _nominal(lot)
    nanometres = measured_nanometres(lot) | checked_dimensions(kind, present, pointer)
    texts = {**lot.measured, **{name: length.text for name, length in present.items()}}
    for name in changes.keys() - present.keys():
        nanometres.pop(name, None)
        texts.pop(name, None)
    hows = {name: how for name, how in lot.measured_how.items() if name not in changes}
    hows |= {name: how for name, length in present.items() if (how := how_measured(length))}
    lot.measured, lot.measured_how = texts, hows
    _write_dimensions(lot, kind, nanometres, pointer, unmeasured)


def _nominal(lot: Lot) -> dict[str, int]:
    """Return what is said of pieces of no part without having been measured."""
    known = basis(lot)
    return {name: value for name, value in lot.dimensions.items() if known[name] == "nominal"}


def _write_dimensions(
    lot: Lot,
    kind: PartKind | None,
    measured: Mapping[str, int],
    pointer: str,
    unmeasured: Mapping[str, int] | None = None,
) -> None:
    """Fill the columns: what is measured counts, and a nominal that contradicts it is left out.

    A part's dimensions stand before what the packet's number says.
    """
    refuse_contradictions(measured, pointer)
    nominal = dict(unmeasured or {})
    if lot.part is not None:
        nominal = lot.part.dimensions
        if kind is not None and kind.led_by not in nominal:
            nominal = claimed(kind, lot.label) | nominal
    measured = {**derived(kind, measured), **measured}
    merged = {**nominal, **measured}
    while (fault := contradiction(merged)) is not None:
        merged.pop("outside_diameter" if fault[0] in measured else fault[0])
    set_dimensions(lot, merged)


def _set_made_on(lot: Lot, made_on: MadeOn | None, today: date) -> None:
    if made_on is not None and made_on.earliest > today:
        raise Impossible.at("/made_on", f"{made_on.text} is still to come")
    lot.made_on = made_on.text if made_on else None
    lot.made_from = made_on.earliest if made_on else None


def count(work: Work, lot: Lot, counted: int, note: str, release: Sequence[int] = ()) -> Lot:
    """Set what is in hand to what was counted, pieces in trays included."""
    (lot,) = locked_free(work, [lot], release)
    difference = counted - lot.in_hand
    _take_out(work, lot, "counted", difference, note)
    return lot


def discard(work: Work, lot: Lot, quantity: int, note: str, release: Sequence[int] = ()) -> Lot:
    """Throw pieces away."""
    (lot,) = locked_free(work, [lot], release)
    refuse_lack(work, lot, quantity, "discarded")
    _take_out(work, lot, "discarded", -quantity, note)
    return lot


def move(
    work: Work,
    lot: Lot,
    drawer: str,
    quantity: int | None,
    note: str,
    release: Sequence[int] = (),
) -> Lot:
    """Move pieces to another drawer; some of a lot become a lot of their own there.

    Without a quantity the whole lot moves, promises and all, and what is fixed in it moves along; a
    quantity is of pieces that are not promised. Returns the lot that lies there now.
    """
    place = drawer_named(work.session, drawer)
    fixed = inside(work.session, [lot.id])
    locked = locked_free(work, [lot, *fixed], release)
    if quantity is None:
        quantity = lot.in_hand
    elif quantity <= lot.in_hand:
        refuse_promised(work, lot, lot.in_hand - quantity)
    if quantity > lot.in_hand or quantity == 0:
        raise Conflict(
            f"only {lot.in_hand} in hand: {quantity} cannot be moved",
            [Problem("/quantity", f"at most {lot.in_hand}")],
        )
    if place.id == lot.place_id and lot.part_of_lot_id is None:
        raise Conflict(f"lot {lot.id} lies in {drawer} already")
    if quantity == lot.in_hand:
        record(work, note, *moved_lines(work, locked, place))
        return lot
    return _move_some(work, lot, place.id, quantity, note)


def _move_some(work: Work, lot: Lot, place_id: int, quantity: int, note: str) -> Lot:
    """Split a lot: the moved pieces keep its measurements, age and their share of its cost."""
    origin = lot.place_id
    cost = take_out(work, lot, quantity)
    there = split_off(lot, quantity, cost, place_id=place_id)
    work.session.add(there)
    work.session.flush()
    record(
        work,
        note,
        Line(lot, "moved", -quantity, quantity, -(cost or 0), place_id, origin),
        Line(there, "moved", quantity, quantity, cost or 0, place_id, origin),
    )
    return there


def _take_out(work: Work, lot: Lot, verb: str, change: int, note: str) -> None:
    refuse_promised(work, lot, lot.in_hand + change)
    record(work, note, taken_line(work, lot, verb, change))


def taken_line(work: Work, lot: Lot, verb: str, change: int) -> Line:
    """Change what is in hand of a locked lot, and return the line that says so."""
    if lot.in_hand + change > MOST_IN_A_LOT:
        raise Impossible.at("/counted", f"a lot holds at most {MOST_IN_A_LOT}")
    if lot.in_hand + change == 0 and change:
        refuse_holder(work, lot)
    cost = 0
    if change < 0 and lot.cost_minor is not None:
        cost = -take_share(lot.cost_minor, lot.in_hand, -change)
    if not change_balance(work.session, lot.id, in_hand=change, cost_minor=cost):
        raise Conflict(f"lot {lot.id} has just changed; look again")
    return Line(lot, verb, change, abs(change), cost)
