"""Parcels: what came of an order becomes lots, and what differs from the order is said."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.catalogue.tables import Part
from sparewell.errors import Conflict, Impossible, Problem
from sparewell.handling.operations import record_arrival
from sparewell.ledger.tables import Act
from sparewell.lots.operations import NewLot, measured_nanometres, unrecorded_lot
from sparewell.lots.tables import Lot
from sparewell.measure.dimensions import DIMENSIONS
from sparewell.measure.entered import EnteredLength
from sparewell.measure.length import length_text
from sparewell.orders.operations import LineState, line_of, line_states, locked_order
from sparewell.orders.settings import SIZE_TOLERANCE
from sparewell.orders.tables import Difference, Order, OrderLine, OrderState, Parcel, ParcelLine
from sparewell.settings.operations import present_values
from sparewell.work import Work


@dataclass(frozen=True)
class ParcelBag:
    """One bag of a parcel: the line it was sent for, the lot it becomes, what the packet claims.

    What `counts` for the order is the whole bag, unless somebody says that it does not, or that it
    is of another part.
    """

    line: int
    lot: NewLot
    claimed: Mapping[str, EnteredLength] = field(default_factory=dict)
    counts: bool = True


@dataclass(frozen=True)
class ShownParcel:
    """A parcel, whether its arrival was undone, and how its order stands."""

    row: Parcel
    order: Order
    order_lines: Sequence[LineState]
    undone: bool

    @property
    def differences(self) -> list[dict[str, str]]:
        """How it and what came before it differ from the order."""
        return differences(self.row, self.order_lines)


def shown_parcels(session: Session, order: Order, rows: Sequence[Parcel]) -> list[ShownParcel]:
    """Return parcels of one order as they are shown."""
    states = line_states(session, order)
    acts = [parcel.act_id for parcel in rows]
    undone = set(session.scalars(select(Act.undoes_act_id).where(Act.undoes_act_id.in_(acts))))
    return [ShownParcel(parcel, order, states, parcel.act_id in undone) for parcel in rows]


def receive(work: Work, order: Order, bags: Sequence[ParcelBag], note: str) -> Parcel:
    """Take a parcel in: each bag a lot, all in one act. Raises Impossible and Conflict."""
    order = locked_order(work, order)
    if order.state in (OrderState.DRAFT, OrderState.CANCELLED):
        raise Conflict(
            f"{order.number} is {order.state}, so no parcel of it can have come",
            [
                Problem(
                    "",
                    "send it first"
                    if order.state == OrderState.DRAFT
                    else "take the bags in by hand",
                )
            ],
        )
    came = {state.row.id: state.received for state in line_states(work.session, order)}
    tolerance = present_values(work.session, work.declared).length(SIZE_TOLERANCE.name)
    rows, lots = [], []
    for place, bag in enumerate(bags):
        line = line_of(order, bag.line, f"/lines/{place}/line")
        is_other = bag.lot.part not in ("", line.part.number)
        counts = bag.counts and not is_other
        lot = _lot(work, line, bag, came[line.id] if counts else None, f"/lines/{place}")
        pieces = bag.lot.quantity
        counted = pieces if counts else 0
        came[line.id] += counted
        lots.append(lot)
        rows.append(
            ParcelLine(
                line_id=line.id,
                lot_id=lot.id,
                pieces=pieces,
                counted_pieces=counted,
                differences=list(_differences_of(lot, line.part, bag, tolerance)),
            )
        )
    parcel = Parcel(
        order_id=order.id,
        act_id=record_arrival(work, lots, note or f"parcel of {order.number}"),
        note=note,
        received_at=work.now,
        lines=rows,
    )
    work.session.add(parcel)
    work.session.flush()
    work.session.expire(order, ["parcels"])
    return parcel


def _lot(work: Work, line: OrderLine, bag: ParcelBag, before: int | None, pointer: str) -> Lot:
    """Make the lot of a bag; without a cost it carries its share of what the line costs."""
    new = replace(bag.lot, part=bag.lot.part or line.part.number)
    if new.cost is None and before is not None:
        cost = _cost_of(line, before + new.quantity) - _cost_of(line, before)
        new = replace(new, cost=cost)
    try:
        return unrecorded_lot(work, new)
    except Impossible as refusal:
        problems = [replace(each, pointer=pointer + each.pointer) for each in refusal.problems]
        raise Impossible(refusal.detail, problems) from refusal


def _cost_of(line: OrderLine, pieces: int) -> int:
    """Return what the first pieces of a line cost; the shares of all of them add up to its price.

    What comes beyond what was ordered costs nothing.
    """
    return line.packs * line.price_minor * min(pieces, line.pieces) // line.pieces


def _differences_of(
    lot: Lot, ordered: Part, bag: ParcelBag, tolerance: int
) -> Iterator[dict[str, str]]:
    """Say how a bag differs: what it measures against what its packet claims, and the order."""
    measured = measured_nanometres(lot)
    claimed = {name: length.nanometres for name, length in bag.claimed.items()}
    if lot.part is not None and lot.part_id != ordered.id:
        yield _said(
            Difference.OTHER_PART, f"it is {lot.part.number}, and {ordered.number} was ordered"
        )
    for what, found, against, expected in (
        ("measures", measured, "its packet claims", claimed),
        ("measures", measured, f"{ordered.number} has", ordered.dimensions),
        ("is by its packet", claimed, f"{ordered.number} has", ordered.dimensions),
    ):
        for name, value in found.items():
            wanted = expected.get(name)
            if wanted is not None and abs(value - wanted) > tolerance:
                yield _said(
                    Difference.WRONG_SIZE,
                    f"its {DIMENSIONS[name]} {what} {length_text(value)}, and {against} "
                    f"{length_text(wanted)}: more than {length_text(tolerance)} apart",
                )


def _said(what: str, detail: str) -> dict[str, str]:
    return {"what": what, "detail": detail}


def differences(parcel: Parcel, states: Sequence[LineState]) -> list[dict[str, str]]:
    """Say how a parcel and what came before it differ from the order."""
    found = [
        _said(each["what"], f"bag {line.lot_id}: {each['detail']}")
        for line in parcel.lines
        for each in line.differences
    ]
    for state in states:
        line, expected = state.row, state.row.pieces - state.row.given_up_pieces
        if state.received > expected:
            detail = f"{state.received} of {line.part.number} came, and {expected} were ordered"
            found.append(_said(Difference.TOO_MANY, detail))
        elif state.rest:
            detail = (
                f"{state.received} of {expected} of {line.part.number} have come; {state.rest} "
                "stay on order until they come or are cancelled"
            )
            found.append(_said(Difference.SHORT, detail))
    return found
