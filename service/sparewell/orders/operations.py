"""Orders: writing one, sending it, giving up what will not come; and what is still on order."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, case, func, select
from sqlalchemy.orm import Session

from sparewell.database.numbers import id_of
from sparewell.database.transaction import locked
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.ledger.tables import Act
from sparewell.measure.money import money_text
from sparewell.orders.tables import ORDER_PREFIX, Order, OrderLine, OrderState, Parcel, ParcelLine
from sparewell.suppliers.operations import find_offer, find_supplier, part_named, price_of
from sparewell.suppliers.tables import Offer, Supplier
from sparewell.work import Work

MOST_LINES = 200


@dataclass(frozen=True)
class LineState:
    """How a line of an order stands, in pieces."""

    row: OrderLine
    received: int

    @property
    def rest(self) -> int:
        """How many are still to come."""
        return max(0, self.row.pieces - self.row.given_up_pieces - self.received)


@dataclass(frozen=True)
class ShownOrder:
    """An order, how each of its lines stands, and what it comes to."""

    row: Order
    lines: Sequence[LineState]

    @property
    def state(self) -> str:
        """How it stands, with what has come of it."""
        return state_of(self.row, self.lines)

    @property
    def parcels(self) -> list[int]:
        """The ids of what came of it."""
        return [parcel.id for parcel in self.row.parcels]

    @property
    def goods(self) -> int:
        """What its lines cost."""
        return goods_of(self.row)

    @property
    def total(self) -> int:
        """What it costs with postage."""
        return self.goods + self.row.postage_minor

    @property
    def warnings(self) -> list[str]:
        """What its supplier may object to."""
        return warnings_of(self.row)


def shown_orders(session: Session, some: Sequence[Order]) -> list[ShownOrder]:
    """Return orders as they are shown; what came is looked up for all of them at once."""
    came = received(session, [line.id for order in some for line in order.lines])
    return [ShownOrder(order, _states(order, came)) for order in some]


def _states(order: Order, came: Mapping[int, int]) -> list[LineState]:
    return [LineState(line, came.get(line.id, 0)) for line in order.lines]


def find_order(session: Session, number: str) -> Order:
    """Return an order by its number. Raises :class:`NotFound`."""
    order = session.get(Order, id_of(ORDER_PREFIX, number))
    if order is None:
        raise NotFound(f"there is no order {number!r}")
    return order


def locked_order(work: Work, order: Order) -> Order:
    """Lock an order with its lines, which change under this lock only."""
    order = locked(work.session, order)
    work.session.expire(order, ["lines", "parcels"])
    statement = select(OrderLine).where(OrderLine.order_id == order.id)
    work.session.scalars(statement.execution_options(populate_existing=True)).all()
    return order


def create_order(
    work: Work,
    supplier_id: int,
    lines: Sequence[Mapping[str, Any]],
    *,
    postage: int | None = None,
    note: str = "",
) -> Order:
    """Write a draft. Without a postage it is the supplier's. Raises :class:`Impossible`."""
    try:
        # Whoever retires the supplier waits for this order, or this for them.
        supplier = locked(work.session, find_supplier(work.session, supplier_id))
    except NotFound as error:
        detail = f"{error.detail}; POST /v1/suppliers makes one"
        raise Impossible.at("/supplier", detail) from error
    if supplier.retired_at is not None:
        raise Conflict(f"{supplier.name} is retired; take the supplier back first")
    rows = [_line(work, supplier, line, f"/lines/{place}") for place, line in enumerate(lines)]
    goods = sum(row.packs * row.price_minor for row in rows)
    order = Order(
        supplier=supplier,
        state=OrderState.DRAFT,
        postage_minor=postage_for(supplier, goods) if postage is None else postage,
        note=note,
        created_at=work.now,
        lines=rows,
        parcels=[],
    )
    work.session.add(order)
    work.session.flush()
    return order


def _line(work: Work, supplier: Supplier, values: Mapping[str, Any], pointer: str) -> OrderLine:
    if "offer" in values:
        return _line_of_offer(work, supplier, values, pointer)
    for name in ("part", "price"):
        if values.get(name) is None:
            detail = "an offer's id, or a part with its price for a pack"
            raise Impossible.at(f"{pointer}/{name}", f"missing: a line names {detail}")
    return OrderLine(
        part=part_named(work, values["part"], f"{pointer}/part"),
        item_number=values["item_number"],
        packs=values["packs"],
        pack_pieces=values["pack_pieces"],
        price_minor=values["price"],
    )


def _line_of_offer(
    work: Work, supplier: Supplier, values: Mapping[str, Any], pointer: str
) -> OrderLine:
    offer = _offer(work, supplier, values["offer"], f"{pointer}/offer")
    packs = values["packs"]
    if packs * offer.pack_pieces < offer.minimum_pieces:
        raise Impossible.at(
            f"{pointer}/packs",
            f"{supplier.name} sells at least {offer.minimum_pieces} pieces of it",
        )
    if values.get("part") is not None and (
        offer.part is None or values["part"] != offer.part.number
    ):
        raise Impossible.at(f"{pointer}/part", f"offer {offer.id} is of another part; leave it out")
    price = values.get("price")
    return OrderLine(
        part=offer.part,
        offer_id=offer.id,
        item_number=values["item_number"] or offer.item_number,
        packs=packs,
        pack_pieces=offer.pack_pieces,
        price_minor=price_of(offer, packs) if price is None else price,
    )


def _offer(work: Work, supplier: Supplier, offer_id: int, pointer: str) -> Offer:
    try:
        offer = find_offer(work.session, offer_id)
    except NotFound as error:
        raise Impossible.at(pointer, error.detail) from error
    if offer.supplier_id != supplier.id:
        raise Impossible.at(pointer, f"offer {offer_id} is {offer.supplier.name}'s")
    if offer.part is None:
        raise Impossible.at(
            pointer, f"offer {offer_id} names no part yet; PATCH it with the part that it is"
        )
    if offer.retired_at is not None:
        raise Impossible.at(pointer, f"offer {offer_id} is retired")
    return offer


def postage_for(supplier: Supplier, goods_minor: int) -> int:
    """Return what a supplier takes for postage on so much."""
    free_from = supplier.free_postage_from_minor
    is_free = free_from is not None and goods_minor >= free_from
    return 0 if is_free else supplier.postage_minor


def goods_of(order: Order) -> int:
    """Return what the lines of an order cost, without postage."""
    return sum(line.packs * line.price_minor for line in order.lines)


def warnings_of(order: Order) -> list[str]:
    """Say what a supplier may object to."""
    goods, least = goods_of(order), order.supplier.minimum_order_minor
    if order.state == OrderState.DRAFT and least is not None and goods < least:
        return [
            (
                f"{order.supplier.name} takes orders from {money_text(least)}, and this one is "
                f"{money_text(goods)}"
            )
        ]
    return []


def change_order(work: Work, order: Order, changes: Mapping[str, Any]) -> Order:
    """Change the note of a locked order, or what its postage comes to."""
    if "note" in changes:
        order.note = changes["note"]
    if changes.get("postage") is not None:
        order.postage_minor = changes["postage"]
    work.session.flush()
    return order


def send(work: Work, order: Order) -> Order:
    """Note that a draft was sent: its pieces are on order. Raises :class:`Conflict`."""
    order = locked_order(work, order)
    _refuse_state(order, OrderState.DRAFT, OrderState.SENT)
    order.state, order.sent_at = OrderState.SENT, work.now
    work.session.flush()
    return order


def _refuse_state(order: Order, needed: OrderState, wanted: OrderState) -> None:
    if order.state != needed:
        raise Conflict(
            f"{order.number} is {order.state}; only one that is {needed} can be {wanted}",
            [Problem("", f"it is {order.state}")],
        )


def cancel(
    work: Work, order: Order, why: str, lines: Sequence[Mapping[str, Any]] | None = None
) -> Order:
    """Give up what has not come: all of it, or so many pieces of some lines. Raises Conflict."""
    order = locked_order(work, order)
    if order.state == OrderState.CANCELLED:
        raise Conflict(f"{order.number} was cancelled already: {order.cancelled_why}")
    states = {state.row.id: state for state in line_states(work.session, order)}
    if lines is None:
        wanted = {line_id: state.rest for line_id, state in states.items()}
    else:
        wanted = _wanted(order, states, lines)
    if not any(wanted.values()):
        raise Conflict(f"nothing of {order.number} is still to come")
    for line_id, pieces in wanted.items():
        if pieces:
            line = states[line_id].row
            line.given_up_pieces += pieces
            line.given_up_why = why
    is_empty = all(line.given_up_pieces == line.pieces for line in order.lines)
    if is_empty:
        order.state, order.cancelled_at, order.cancelled_why = OrderState.CANCELLED, work.now, why
    work.session.flush()
    return order


def _wanted(
    order: Order, states: Mapping[int, LineState], lines: Sequence[Mapping[str, Any]]
) -> dict[int, int]:
    wanted: dict[int, int] = {}
    for place, given in enumerate(lines):
        line_of(order, given["line"], f"/lines/{place}/line")
        rest = states[given["line"]].rest - wanted.get(given["line"], 0)
        if given["pieces"] > rest:
            raise Conflict(
                f"{rest} of line {given['line']} are still to come, not {given['pieces']}",
                [Problem(f"/lines/{place}/pieces", f"at most {rest}")],
            )
        wanted[given["line"]] = wanted.get(given["line"], 0) + given["pieces"]
    return wanted


def line_of(order: Order, line_id: int, pointer: str) -> OrderLine:
    """Return a line of an order that a body names. Raises :class:`Impossible`."""
    for line in order.lines:
        if line.id == line_id:
            return line
    known = ", ".join(str(line.id) for line in order.lines)
    raise Impossible.at(pointer, f"{order.number} has no line {line_id}; it has {known}")


def line_states(session: Session, order: Order) -> list[LineState]:
    """Return how each line of an order stands."""
    came = received(session, [line.id for line in order.lines])
    return _states(order, came)


def state_of(order: Order, states: Sequence[LineState]) -> str:
    """Return how an order stands, with what has come of it."""
    if order.state != OrderState.SENT:
        return order.state
    if not any(state.rest for state in states):
        return OrderState.RECEIVED
    return (
        OrderState.PARTLY_RECEIVED if any(state.received for state in states) else OrderState.SENT
    )


def arrived_still() -> ColumnElement[bool]:
    """Return the condition that a parcel's arrival was not undone."""
    undone = select(Act.undoes_act_id).where(Act.undoes_act_id.is_not(None))
    return Parcel.act_id.not_in(undone)


def received(session: Session, line_ids: Collection[int]) -> dict[int, int]:
    """Return by line how many pieces have come for it."""
    statement = (
        select(ParcelLine.line_id, func.sum(ParcelLine.counted_pieces))
        .join(Parcel, Parcel.id == ParcelLine.parcel_id)
        .where(ParcelLine.line_id.in_(line_ids), arrived_still())
        .group_by(ParcelLine.line_id)
    )
    return {line_id: int(pieces) for line_id, pieces in session.execute(statement)}


def on_order(session: Session) -> dict[int, int]:
    """Return by part how many pieces are on their way."""
    came = (
        select(ParcelLine.line_id, func.sum(ParcelLine.counted_pieces).label("pieces"))
        .join(Parcel, Parcel.id == ParcelLine.parcel_id)
        .where(arrived_still())
        .group_by(ParcelLine.line_id)
        .subquery()
    )
    rest = (
        OrderLine.packs * OrderLine.pack_pieces
        - OrderLine.given_up_pieces
        - func.coalesce(came.c.pieces, 0)
    )
    statement = (
        select(OrderLine.part_id, func.sum(case((rest > 0, rest), else_=0)))
        .join(Order, Order.id == OrderLine.order_id)
        .outerjoin(came, came.c.line_id == OrderLine.id)
        .where(Order.state == OrderState.SENT)
        .group_by(OrderLine.part_id)
    )
    return {part_id: int(pieces) for part_id, pieces in session.execute(statement) if pieces}
