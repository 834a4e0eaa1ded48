"""Which supplier is to get what: the least order for the lines wanted, and whether to wait."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from sparewell.catalogue.tables import Part
from sparewell.measure.money import money_text
from sparewell.reorder import solver
from sparewell.reorder.choices import (
    Bill,
    ChosenPacks,
    Pack,
    Question,
    Shop,
    bills_of,
    by_plain_rule,
    cost_of,
)
from sparewell.reorder.operations import ReorderLine, reorder
from sparewell.suppliers.operations import offers_of_parts
from sparewell.suppliers.tables import Offer, Supplier
from sparewell.work import Work

MOST_LINES = 200
_PLAIN = "a plain rule: the cheapest offer of each part by itself, topped up to what is taken"


@dataclass(frozen=True)
class PlannedLine:
    """So many packs of an offer."""

    offer: Offer
    packs: int
    price: int
    wanted: int

    @property
    def pieces(self) -> int:
        """How many pieces that are."""
        return self.packs * self.offer.pack_pieces

    @property
    def part(self) -> str:
        """The number of its part."""
        return self.offer.part.number if self.offer.part else ""

    @property
    def cost(self) -> int:
        """What they cost."""
        return self.packs * self.price


@dataclass(frozen=True)
class PlannedOrder:
    """What one supplier is to get."""

    supplier: Supplier
    lines: Sequence[PlannedLine]
    bill: Bill

    @property
    def total(self) -> int:
        """What it costs with postage."""
        return self.bill.goods + self.bill.postage

    @property
    def minimum_met(self) -> bool:
        """Whether the supplier takes it."""
        return self.bill.goods >= (self.supplier.minimum_order_minor or 0)


@dataclass(frozen=True)
class Waiting:
    """What it would save to order some days later, together with what will be due by then."""

    days: int
    joining: Sequence[tuple[Part, int]]
    saves: int
    how: str


@dataclass(frozen=True)
class OrderPlan:
    """The least order, how it was found, and what nobody sells."""

    orders: Sequence[PlannedOrder]
    total: int
    is_plain: bool
    answer: ChosenPacks
    unoffered: Sequence[tuple[Part, int]]
    waiting: Waiting
    notes: Sequence[str] = field(default_factory=tuple)


def plan_orders(work: Work, wanted: Sequence[tuple[Part, int]] | None, wait_days: int) -> OrderPlan:
    """Plan the order of these pieces, or of all that is due. Orders nothing."""
    found = reorder(work)
    lines = found.lines
    notes: list[str] = []
    if wanted is None:
        notes += found.notes
        due = [line for line in lines if line.order_quantity]
        wanted = [(line.part, line.order_quantity) for line in due[:MOST_LINES]]
        if len(due) > MOST_LINES:
            notes.append(f"{len(due) - MOST_LINES} further lines are due; order these first")
    soon = _soon(lines, {part.id for part, _ in wanted}, wait_days)
    offers = offers_of_parts(work.session, [part.id for part, _ in [*wanted, *soon]])
    now = question_of(wanted, offers)
    answer, is_plain = least(now)
    return OrderPlan(
        orders=orders_of(now, answer, offers),
        total=cost_of(now, answer.choice),
        is_plain=is_plain,
        answer=answer,
        unoffered=[(part, pieces) for part, pieces in wanted if part.id not in offers],
        waiting=_waiting(wanted, soon, offers, cost_of(now, answer.choice), wait_days),
        notes=notes,
    )


def question_of(
    wanted: Sequence[tuple[Part, int]], offers: Mapping[int, Sequence[Offer]]
) -> Question:
    """Put what is wanted and sold into plain numbers; a part named twice is wanted twice."""
    pieces: dict[int, int] = {}
    for part, quantity in wanted:
        if part.id in offers:
            pieces[part.id] = pieces.get(part.id, 0) + quantity
    sold = [offer for part_id in sorted(pieces) for offer in offers[part_id]]
    shops = {
        offer.supplier_id: Shop(
            offer.supplier_id,
            offer.supplier.postage_minor,
            offer.supplier.free_postage_from_minor,
            offer.supplier.minimum_order_minor or 0,
        )
        for offer in sold
    }
    return Question(pieces, shops, [_pack(offer) for offer in sold])


def _pack(offer: Offer) -> Pack:
    assert offer.part_id is not None  # noqa: S101 - it is among the offers of parts
    return Pack(
        offer.id,
        offer.supplier_id,
        offer.part_id,
        offer.pack_pieces,
        tuple((each["packs"], each["price_minor"]) for each in offer.breaks),
        -(-offer.minimum_pieces // offer.pack_pieces),
    )


def least(question: Question) -> tuple[ChosenPacks, bool]:
    """Return the least order, or the plain rule's and that it is plain."""
    plain = by_plain_rule(question)
    if not question.wanted:
        return ChosenPacks(
            {}, is_proven=True, gap=0.0, how="nothing is wanted that anybody sells"
        ), False
    how = f"{_PLAIN}; pip install 'sparewell[{solver.EXTRA}]' brings the solver"
    if solver.is_installed():
        solved = solver.solve(question, plain)
        if solved is not None:
            return solved, False
        how = f"{_PLAIN}; the solver found no order that every supplier takes"
    return ChosenPacks(plain, is_proven=False, gap=None, how=how), True


def orders_of(
    question: Question, answer: ChosenPacks, offers: Mapping[int, Sequence[Offer]]
) -> list[PlannedOrder]:
    """Return what each supplier is to get."""
    chosen: dict[int, list[PlannedLine]] = {}
    known = {offer.id: offer for each in offers.values() for offer in each}
    for pack in question.packs:
        packs = answer.choice.get(pack.id, 0)
        if packs:
            wanted = question.wanted[pack.part]
            line = PlannedLine(known[pack.id], packs, pack.price(packs), wanted)
            chosen.setdefault(pack.shop, []).append(line)
    bills = bills_of(question, answer.choice)
    return [
        PlannedOrder(chosen[shop_id][0].offer.supplier, chosen[shop_id], bill)
        for shop_id, bill in bills.items()
    ]


def _soon(
    lines: Sequence[ReorderLine], asked: Collection[int], days: int
) -> list[tuple[Part, int]]:
    """Return what is not due yet and will be within so many days at its mean use."""
    found = []
    for line in lines:
        decision = line.ruling.decision
        if decision is None or line.order_quantity or line.part.id in asked:
            continue
        left = line.position - math.ceil(line.per_day * days)
        if line.per_day and left <= decision.reorder_point and line.capped_at != 0:
            found.append((line.part, decision.order_up_to - left))
    return found[:MOST_LINES]


def _waiting(
    wanted: Sequence[tuple[Part, int]],
    soon: Sequence[tuple[Part, int]],
    offers: Mapping[int, Sequence[Offer]],
    now_costs: int,
    days: int,
) -> Waiting:
    """Reckon two orders, now and later, against one order later."""
    joining = [(part, pieces) for part, pieces in soon if part.id in offers]
    if not joining or not now_costs:
        how = (
            f"nothing more will be due within {days} days at its mean use, so waiting saves nothing"
        )
        return Waiting(days, joining, 0, how)
    later, together = question_of(joining, offers), question_of([*wanted, *joining], offers)
    later_costs = cost_of(later, least(later)[0].choice)
    together_costs = cost_of(together, least(together)[0].choice)
    saves = max(0, now_costs + later_costs - together_costs)
    how = (
        f"ordered now {money_text(now_costs)}, and what will be due within {days} days at its mean "
        f"use by itself {money_text(later_costs)}; all in one order then "
        f"{money_text(together_costs)}. What is due now would come {days} days later"
    )
    return Waiting(days, joining, saves, how)
