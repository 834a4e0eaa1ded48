"""Where a batch's parts would come from: free pieces in hand, and what offers ask for the rest.

Everything is looked up for all needs of the batch together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select

from sparewell.catalogue.tables import Part, column_of
from sparewell.errors import Broken, Impossible
from sparewell.extend.declarations import Range
from sparewell.extend.pen_materials import materials_of
from sparewell.fitting.in_hand import PiecesInHand
from sparewell.fitting.materials import Suiting
from sparewell.lots import search
from sparewell.lots.ageing import in_date
from sparewell.lots.conditions import Condition
from sparewell.lots.tables import Lot
from sparewell.pens.tables import Pen
from sparewell.reorder.sources import Catalogue
from sparewell.settings.operations import present_values
from sparewell.suppliers.operations import least_packs, offers_of_parts, price_of
from sparewell.suppliers.tables import Offer
from sparewell.triage.needs import BatchNeed
from sparewell.work import Work

MOST_LOTS = 50
_ANY_SIZE = Range(1, None)
_LOOKED_AT = Lot.condition.is_(None) | (Lot.condition != Condition.UNCHECKED)


@dataclass(frozen=True)
class Supply:
    """What a need could have: lots with free pieces, the nearest first, and the price of a piece.

    The price is that of a piece in the cheapest pack that is offered, rounded up; None where nobody
    is known to sell it, or the size is not known.
    """

    lots: Sequence[Lot] = ()
    price_minor: int | None = None

    @property
    def in_hand(self) -> int:
        """How many pieces are free."""
        return sum(lot.available for lot in self.lots)


def supplies_of(work: Work, needs: Sequence[tuple[Pen, BatchNeed]]) -> dict[int, Supply]:
    """Return what each need could have, by its place in the list."""
    sized = [place for place, (_, need) in enumerate(needs) if need.asked is not None]
    others = [place for place, (_, need) in enumerate(needs) if need.asked is None]
    lots = _judged(work, needs, sized) | _of_the_size(work, needs, others)
    prices = _Prices(work, {need.row.kind for _, need in needs})
    return {
        place: Supply(lots.get(place, ()), prices.of(pen, need))
        for place, (pen, need) in enumerate(needs)
    }


def _judged(
    work: Work, needs: Sequence[tuple[Pen, BatchNeed]], places: Sequence[int]
) -> dict[int, Sequence[Lot]]:
    """Return the lots that a plan would take by itself, where the readings say what would fit."""
    asked = [needs[place][1].asked for place in places]
    known = [each for each in asked if each is not None]
    found: dict[int, Sequence[Lot]] = {}
    for place, each, lots in zip(places, known, PiecesInHand(work).everywhere(known), strict=True):
        try:
            found[place] = [lot for lot in lots if each.judge.judge(lot).is_taken_by_itself]
        except (Impossible, Broken):
            continue
    return found


def _of_the_size(
    work: Work, needs: Sequence[tuple[Pen, BatchNeed]], places: Sequence[int]
) -> dict[int, Sequence[Lot]]:
    """Return the lots of the sizes that pens alike took, or of any size, that suit the pen."""
    settings = present_values(work.session, work.declared)
    keeps = in_date(work.now.date(), work.declared, settings)
    searches = {}
    for place in places:
        pen, need = needs[place]
        kind = work.declared.kinds.get(need.row.kind)
        if kind is None:
            continue
        suiting = _suiting(work, pen, need)
        in_order = suiting.in_order(kind.name)
        bounds, ideal = (need.past.range, need.past.ideal) if need.past else (_ANY_SIZE, 0)
        conditions = (_LOOKED_AT, keeps, suiting.may_come_near(kind.name))
        searches[place] = search.Sought(
            kind.name,
            kind.led_by,
            ideal,
            {kind.led_by: bounds},
            conditions if in_order is None else (*conditions, in_order),
        )
    found = search.nearest_of_each(work.session, list(searches.values()), MOST_LOTS)
    ids = {lot_id for each in found for lot_id in each}
    lots = {lot.id: lot for lot in work.session.scalars(select(Lot).where(Lot.id.in_(ids)))}
    return {
        place: sorted((lots[each] for each in of_it), key=lambda lot: lot.donor_id is not None)
        for place, of_it in zip(searches, found, strict=True)
    }


def _suiting(work: Work, pen: Pen, need: BatchNeed) -> Suiting:
    materials = materials_of(pen.materials, pen.components)
    return Suiting(work.declared, materials, need.row.materials)


class _Prices:
    """What a piece costs by the offers that there are, of the parts of some kinds."""

    def __init__(self, work: Work, kinds: Iterable[str]) -> None:
        self._work = work
        self._catalogue = Catalogue(work)
        self._parts: defaultdict[str, list[Part]] = defaultdict(list)
        sold = select(Offer.part_id).where(Offer.retired_at.is_(None))
        statement = select(Part).where(Part.kind.in_(set(kinds)), Part.id.in_(sold))
        for part in work.session.scalars(statement.order_by(Part.id)):
            self._parts[part.kind].append(part)
        ids = [part.id for parts in self._parts.values() for part in parts]
        self._offers: Mapping[int, Sequence[Offer]] = offers_of_parts(work.session, ids)

    def of(self, pen: Pen, need: BatchNeed) -> int | None:
        """Return what the cheapest piece that would do costs, in the smallest unit."""
        prices = [self._piece(part_id) for part_id in self._would_do(pen, need)]
        return min((price for price in prices if price is not None), default=None)

    def _would_do(self, pen: Pen, need: BatchNeed) -> list[int]:
        if need.asked is not None:
            try:
                best = self._catalogue.best_part(need.asked)
            except (Impossible, Broken):
                return []
            return [] if best is None else [best]
        if need.past is None:
            return []
        kind, bounds = self._work.declared.kinds[need.row.kind], need.past.range
        suiting = _suiting(self._work, pen, need)
        return [
            part.id
            for part in self._parts[kind.name]
            if _is_within(getattr(part, column_of(kind.led_by)), bounds)
            and not suiting.refuses(kind.name, part.material)
            and suiting.is_taken_unasked(kind.name, part.material)
        ]

    def _piece(self, part_id: int) -> int | None:
        offers = self._offers.get(part_id)
        if not offers:
            return None
        cheapest = offers[0]
        return -(-price_of(cheapest, least_packs(cheapest, 1)) // cheapest.pack_pieces)


def _is_within(size: int | None, bounds: Range) -> bool:
    low, high = bounds.low, bounds.high
    return size is not None and (low is None or low <= size) and (high is None or size <= high)
