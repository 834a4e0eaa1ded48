"""The least order as plain numbers: what is wanted, who sells it how, and what an order costs.

Nothing here knows the database or a solver. :func:`cost_of` reckons any choice exactly, in whole
minor units; whoever makes a choice, a rule or a solver, is measured by it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Shop:
    """One supplier: postage, from which amount it is free, the least that is taken."""

    id: int
    postage: int
    free_from: int | None = None
    minimum: int = 0


@dataclass(frozen=True)
class Pack:
    """One offer: packs of a part at all-units breaks (fewest packs, price of each pack)."""

    id: int
    shop: int
    part: int
    pieces: int
    breaks: tuple[tuple[int, int], ...]
    least_packs: int = 1

    def price(self, packs: int) -> int:
        """Return what each of so many packs costs."""
        return max(each for each in self.breaks if each[0] <= packs)[1]

    def packs_for(self, pieces: int) -> int:
        """Return how many packs bring so many pieces, and no fewer than are sold."""
        return max(self.least_packs, -(-pieces // self.pieces))


@dataclass(frozen=True)
class Question:
    """How many pieces of each part are wanted, and who sells them."""

    wanted: Mapping[int, int]
    shops: Mapping[int, Shop]
    packs: Sequence[Pack]

    def sold(self, part: int) -> list[Pack]:
        """Return the offers of a part."""
        return [pack for pack in self.packs if pack.part == part]

    def most_packs(self, pack: Pack) -> int:
        """Return how many packs of an offer can make sense.

        That is enough for what is wanted, or to reach a cheaper break, the least amount that is
        taken, or the one from which postage is free, by this offer alone.
        """
        shop = self.shops[pack.shop]
        dearest = max(price for _, price in pack.breaks)
        cheapest = min(price for _, price in pack.breaks) or dearest or 1
        reaching = max(shop.minimum, shop.free_from or 0)
        return max(
            pack.packs_for(self.wanted[pack.part]),
            *(least for least, _ in pack.breaks),
            -(-reaching // cheapest),
        )


Choice = Mapping[int, int]  # packs by offer; an offer that is left alone has none


@dataclass(frozen=True)
class Bill:
    """What a choice costs at one supplier."""

    goods: int
    postage: int


@dataclass(frozen=True)
class ChosenPacks:
    """A choice, whether it is proven to be the least, and how far from it it may be at most."""

    choice: Choice
    is_proven: bool
    gap: float | None
    how: str


def bills_of(question: Question, choice: Choice) -> dict[int, Bill]:
    """Return what a choice costs, by supplier."""
    goods: dict[int, int] = {}
    for pack in question.packs:
        packs = choice.get(pack.id, 0)
        if packs:
            goods[pack.shop] = goods.get(pack.shop, 0) + packs * pack.price(packs)
    return {
        shop_id: Bill(amount, _postage(question.shops[shop_id], amount))
        for shop_id, amount in sorted(goods.items())
    }


def _postage(shop: Shop, goods: int) -> int:
    return 0 if shop.free_from is not None and goods >= shop.free_from else shop.postage


def cost_of(question: Question, choice: Choice) -> int:
    """Return what a choice costs in all."""
    return sum(bill.goods + bill.postage for bill in bills_of(question, choice).values())


def fault_of(question: Question, choice: Choice) -> str | None:
    """Say what keeps a choice from being an order; None where nothing does."""
    for part, pieces in question.wanted.items():
        brought = sum(choice.get(pack.id, 0) * pack.pieces for pack in question.sold(part))
        if brought < pieces:
            return f"{brought} of {pieces} pieces of part {part}"
    for pack in question.packs:
        if 0 < choice.get(pack.id, 0) < pack.least_packs:
            return f"fewer than {pack.least_packs} packs of offer {pack.id}"
    for shop_id, bill in bills_of(question, choice).items():
        if bill.goods < question.shops[shop_id].minimum:
            return f"supplier {shop_id} takes more than {bill.goods}"
    return None


def by_plain_rule(question: Question) -> Choice:
    """Take the cheapest offer of each part by itself, then top up to the least that is taken.

    Where no offer can be topped up within reason, the order stays below what its supplier takes.
    """
    choice: dict[int, int] = {}
    for part, pieces in sorted(question.wanted.items()):
        costs = []
        for pack in question.sold(part):
            packs = pack.packs_for(pieces)
            costs.append((packs * pack.price(packs), pack.id, packs))
        if costs:
            _, offer, packs = min(costs)
            choice[offer] = packs
    for shop_id, bill in bills_of(question, choice).items():
        if bill.goods < question.shops[shop_id].minimum:
            _top_up(question, choice, shop_id)
    return choice


def _top_up(question: Question, choice: dict[int, int], shop_id: int) -> None:
    """Add packs of the cheapest offer of a supplier until it takes the order."""
    ordered = [pack for pack in question.packs if pack.shop == shop_id and pack.id in choice]
    pack = min(ordered, key=lambda each: (each.price(choice[each.id]), each.id))
    while choice[pack.id] < question.most_packs(pack):
        choice[pack.id] += 1
        if bills_of(question, choice)[shop_id].goods >= question.shops[shop_id].minimum:
            return
