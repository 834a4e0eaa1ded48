"""Outcomes by bag: what came of it wherever its pieces went, the sister pens, what was ruined."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session, aliased, joinedload

from sparewell.database.numbers import PEN_PREFIX, number_of
from sparewell.learned.fitted import Fitted
from sparewell.learned.tallies import FEWEST_TO_SAY, OutcomeTally
from sparewell.lots.tables import Lot
from sparewell.reservations.tables import Reservation

MOST_BAGS: Final = 50
MOST_SISTERS: Final = 20
_RUINED: Final = (
    select(Reservation.lot_id, func.sum(Reservation.spoiled))
    .where(Reservation.spoiled > 0)
    .group_by(Reservation.lot_id)
)


@dataclass
class Bag:
    """Pieces that came together, with those split off, and how they did.

    `sisters` are the pens that have pieces of it and of which nothing bad is known, newest first.
    """

    lot_id: int
    tally: OutcomeTally = field(default_factory=OutcomeTally)
    ruined: int = 0
    pens: dict[int, bool] = field(default_factory=dict)
    lot: Lot | None = None

    @property
    def sister_ids(self) -> list[int]:
        """Pens to look at next, where one has failed."""
        if not self.tally.failed:
            return []
        return [pen_id for pen_id, has_failed in reversed(self.pens.items()) if not has_failed]

    @property
    def sisters(self) -> list[str]:
        """The latest of them, by their numbers."""
        return [number_of(PEN_PREFIX, pen_id) for pen_id in self.sister_ids[:MOST_SISTERS]]

    @property
    def sisters_in_all(self) -> int:
        """How many there are."""
        return len(self.sister_ids)

    @property
    def is_told(self) -> bool:
        """Whether there is something to say of it."""
        return bool(self.tally.failed or self.ruined or self.tally.heard >= FEWEST_TO_SAY)


def bags(session: Session, some: Sequence[Fitted]) -> tuple[list[Bag], int]:
    """Return the bags of which there is something to say, the worst first, and how many more."""
    roots = _roots(session)
    found: dict[int, Bag] = {}
    for each in some:
        bag = _bag_of(found, roots, each.lot_id)
        bag.tally.count(each)
        bag.pens[each.pen_id] = bag.pens.get(each.pen_id, False) or each.has_failed
    for lot_id, ruined in session.execute(_RUINED):
        _bag_of(found, roots, lot_id).ruined += int(ruined)
    told = sorted(
        (bag for bag in found.values() if bag.is_told),
        key=lambda bag: (-bag.tally.failed, -bag.ruined, -bag.tally.heard, bag.lot_id),
    )
    shown = told[:MOST_BAGS]
    statement = (
        select(Lot).where(Lot.id.in_([bag.lot_id for bag in shown])).options(joinedload(Lot.part))
    )
    lots = {lot.id: lot for lot in session.scalars(statement)}
    for bag in shown:
        bag.lot = lots[bag.lot_id]
    return shown, len(told) - len(shown)


def _bag_of(found: dict[int, Bag], roots: Mapping[int, int], lot_id: int) -> Bag:
    root = roots.get(lot_id, lot_id)
    return found.setdefault(root, Bag(root))


def _roots(session: Session) -> dict[int, int]:
    """Return, of lots that were split off and of which something was used, where they came from."""
    concerned = select(Reservation.lot_id).where(or_(Reservation.used > 0, Reservation.spoiled > 0))
    tree = (
        select(Lot.id.label("lot_id"), Lot.parent_lot_id.label("ancestor_id"))
        .where(Lot.id.in_(concerned), Lot.parent_lot_id.is_not(None))
        .cte("tree", recursive=True)
    )
    parent = aliased(Lot)
    tree = tree.union_all(
        select(tree.c.lot_id, parent.parent_lot_id)
        .join(parent, parent.id == tree.c.ancestor_id)
        .where(parent.parent_lot_id.is_not(None))
    )
    # Ancestors have lower ids than what was split off from them, so the first is the root.
    rows = session.execute(
        select(tree.c.lot_id, func.min(tree.c.ancestor_id).label("root_id")).group_by(tree.c.lot_id)
    )
    return {row.lot_id: row.root_id for row in rows}
