"""Purchases of several pens: entering one, changing it, dividing what was paid anew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, lazyload

from sparewell.database.numbers import DONOR_PREFIX, PEN_PREFIX, id_of, number_of
from sparewell.database.transaction import locked_rows
from sparewell.donors import costs
from sparewell.donors.tables import Donor
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.measure.money import money_text, shares
from sparewell.pens.tables import Pen
from sparewell.purchases.schemas import PenPurchaseDescription
from sparewell.purchases.tables import Division, PenPurchase
from sparewell.work import Work

Bought = Pen | Donor
_DIVIDES = {"price", "postage", "divided", "lines"}


@dataclass(frozen=True)
class _Line:
    """A pen or a donor that is to be part of a purchase, and what was said of it."""

    thing: Bought
    said: Mapping[str, Any]
    pointer: str


def find_purchase(session: Session, purchase_id: int) -> PenPurchase:
    """Return a purchase by its id. Raises :class:`NotFound`."""
    purchase = session.get(PenPurchase, purchase_id)
    if purchase is None:
        raise NotFound(f"there is no purchase {purchase_id}")
    return purchase


def create_purchase(work: Work, said: Mapping[str, Any]) -> PenPurchase:
    """Enter several pens that were bought together, and divide what was paid.

    Raises :class:`Impossible`, and :class:`Conflict` for one that another purchase has.
    """
    purchase = PenPurchase(created_at=work.now)
    _write_down(purchase, said)
    work.session.add(purchase)
    work.session.flush()
    _divide(work, purchase, said["lines"])
    return purchase


def change_purchase(work: Work, purchase: PenPurchase, said: Mapping[str, Any]) -> PenPurchase:
    """Change a locked purchase, and divide it anew where that makes a difference."""
    _write_down(purchase, said)
    if said.keys() & _DIVIDES:
        _divide(work, purchase, said.get("lines"))
    work.session.flush()
    return purchase


def _write_down(purchase: PenPurchase, said: Mapping[str, Any]) -> None:
    if said.get("price", 0) is None:
        raise Impossible.at("/price", "give what was paid; 0 where it was nothing")
    for name, value in said.items():
        if name != "lines":
            setattr(purchase, PenPurchaseDescription.kept_as(name), value)


def bought_in(session: Session, purchases: Sequence[PenPurchase]) -> Mapping[int, Sequence[Bought]]:
    """Return the pens and donors of each purchase, pens first; two statements however many."""
    found: dict[int, list[Bought]] = {purchase.id: [] for purchase in purchases}
    pens = select(Pen).where(Pen.purchase_id.in_(found)).order_by(Pen.id)
    donors = select(Donor).where(Donor.purchase_id.in_(found)).order_by(Donor.id)
    alone = lazyload("*")
    things: Iterable[Bought] = (
        *session.scalars(pens.options(alone)),
        *session.scalars(donors.options(alone)),
    )
    for thing in things:
        found[thing.purchase_id or 0].append(thing)
    return found


def _divide(work: Work, purchase: PenPurchase, said: Sequence[Mapping[str, Any]] | None) -> None:
    """Divide what was paid over the lines; without lines, over those that are in it."""
    before = bought_in(work.session, [purchase])[purchase.id]
    if said is None:
        lines = [_Line(thing, {}, "") for thing in before]
    else:
        lines = list(_named(work.session, said))
    made_of_pens = _hold(work.session, [*before, *(line.thing for line in lines)])
    _refuse_bought_elsewhere(purchase, lines)
    for line in lines:
        if "value" in line.said:
            line.thing.might_fetch_minor = line.said["value"]
    parts = _shares(purchase, lines)
    staying = {line.thing for line in lines}
    for thing in before:
        if thing not in staying:
            thing.purchase_id = None
            _set_cost(work, thing, None, made_of_pens)
    for line, share in zip(lines, parts, strict=True):
        line.thing.purchase_id = purchase.id
        _set_cost(work, line.thing, share, made_of_pens)
    work.session.flush()


def _named(session: Session, said: Sequence[Mapping[str, Any]]) -> Iterator[_Line]:
    """Yield what the lines name. Raises :class:`Impossible` for what there is not, or twice."""
    pen_ids = {id_of(PEN_PREFIX, line["pen"]) for line in said if "pen" in line}
    donor_ids = {id_of(DONOR_PREFIX, line["donor"]) for line in said if "donor" in line}
    pens = select(Pen).where(Pen.id.in_(pen_ids)).options(lazyload("*"))
    donors = select(Donor).where(Donor.id.in_(donor_ids)).options(lazyload("*"))
    known: dict[str, Bought] = {each.number: each for each in session.scalars(pens)}
    known |= {each.number: each for each in session.scalars(donors)}
    seen = set()
    for position, line in enumerate(said):
        name = "pen" if "pen" in line else "donor"
        number, pointer = line[name], f"/lines/{position}/{name}"
        thing = known.get(number)
        if thing is None or (name == "pen") is not isinstance(thing, Pen):
            raise Impossible.at(pointer, f"there is no {name} {number!r}")
        if number in seen:
            raise Impossible.at(pointer, f"{number} is named twice")
        if isinstance(thing, Donor) and thing.pen_id is not None:
            pen = number_of(PEN_PREFIX, thing.pen_id)
            raise Impossible.at(pointer, f"{number} was made of {pen}: name that")
        seen.add(number)
        yield _Line(thing, line, f"/lines/{position}")


def _hold(session: Session, things: Sequence[Bought]) -> Mapping[int, Donor]:
    """Lock pens by their ids, then donors, so that two purchases never wait for each other.

    Returns by pen the donors that were made of them.
    """
    pens = {thing.id for thing in things if isinstance(thing, Pen)}
    donors = {thing.id for thing in things if isinstance(thing, Donor)}
    locked_rows(session, Pen, pens)
    made = set(session.scalars(select(Donor.id).where(Donor.pen_id.in_(pens))))
    rows = locked_rows(session, Donor, donors | made)
    return {donor.pen_id: donor for donor in rows if donor.pen_id is not None}


def _refuse_bought_elsewhere(purchase: PenPurchase, lines: Sequence[_Line]) -> None:
    problems = [
        Problem(
            line.pointer,
            f"{line.thing.number} is in purchase {line.thing.purchase_id}: leave it out there",
            {"purchase": line.thing.purchase_id},
        )
        for line in lines
        if line.thing.purchase_id not in (None, purchase.id)
    ]
    if problems:
        raise Conflict("; ".join(problem.detail for problem in problems[:3]), problems)


def _shares(purchase: PenPurchase, lines: Sequence[_Line]) -> list[int]:
    """Return what of the price and the postage each line carries. Raises :class:`Impossible`."""
    if purchase.divided == Division.BY_HAND:
        return _amounts(purchase, lines)
    for line in lines:
        if line.said.get("amount") is not None:
            raise Impossible.at(
                f"{line.pointer}/amount", 'amounts are given where "divided" is "by_hand"'
            )
    if purchase.divided == Division.EVENLY:
        return shares(purchase.total_minor, [1] * len(lines))
    values = [_value(line) for line in lines]
    if not any(values):
        raise Impossible.at("/lines", "divided by value, one of them at least is worth something")
    return shares(purchase.total_minor, values)


def _value(line: _Line) -> int:
    value = line.thing.might_fetch_minor
    if value is None:
        raise Impossible.at(
            f"{line.pointer}/value",
            f"say what {line.thing.number} might fetch, for the price is divided by value",
        )
    return value


def _amounts(purchase: PenPurchase, lines: Sequence[_Line]) -> list[int]:
    """Return the amounts that were given; what is in it already keeps its share."""
    amounts = []
    for line in lines:
        kept = line.thing.cost_minor if line.thing.purchase_id == purchase.id else None
        amount: int | None = line.said.get("amount", kept)
        if amount is None:
            raise Impossible.at(
                f"{line.pointer}/amount",
                f"give the amount for {line.thing.number}, for the price is divided by hand",
            )
        amounts.append(amount)
    over = sum(amounts) - purchase.total_minor
    if over:
        raise Impossible.at(
            "/lines",
            f"the amounts come to {money_text(sum(amounts))}, and price and postage to "
            f"{money_text(purchase.total_minor)}: {money_text(abs(over))} "
            f"{'too much' if over > 0 else 'is missing'}",
        )
    return amounts


def _set_cost(
    work: Work, thing: Bought, cost: int | None, made_of_pens: Mapping[int, Donor]
) -> None:
    """Let a share be what a thing cost; a donor's, and a pen's that became one, goes further."""
    donor: Donor | None
    if isinstance(thing, Pen):
        thing.cost_minor = cost
        donor = made_of_pens.get(thing.id)
    else:
        donor = thing
    if donor is not None:
        costs.set_cost(work, donor, cost)
