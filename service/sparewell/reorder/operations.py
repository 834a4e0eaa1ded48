"""What is to be ordered: every part with a threshold, one that was used, or one that jobs lack.

The phases: what is there and how it was used is read for all parts at once; each part is asked its
policy; its position is what is free and in date on the day of use, and on its way, less what open
jobs want and have not reserved; a part is due when its position is at the policy's threshold or
below. What ages is capped at so many years' use, though never below what jobs lack, and only then
made up to whole packs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.catalogue.tables import Part
from sparewell.extend.inputs import SettingValues
from sparewell.extend.reordering import Demand
from sparewell.lots.settings import AGEING_SCHEME
from sparewell.measure.wording import number_text
from sparewell.orders.operations import on_order
from sparewell.reorder.demand import AT_ONCE, Stock, stock_of_parts, uses_of_parts
from sparewell.reorder.policies import Ruling, rule
from sparewell.reorder.settings import LEAD_DAYS, MOST_YEARS, PERIOD_DAYS, REVIEW_DAYS
from sparewell.reorder.thresholds import Threshold, latest_thresholds
from sparewell.reorder.wanted import Unmatched, Wanted, wanted_by_jobs
from sparewell.settings.operations import present_values
from sparewell.suppliers.operations import least_packs, offers_of_parts
from sparewell.suppliers.tables import Offer
from sparewell.work import Work

DAYS_IN_A_YEAR = Fraction(36525, 100)
MOST_NAMED = 5


@dataclass(frozen=True)
class ReorderLine:
    """One part: what is there of it, and how many to order (none while it is not due)."""

    part: Part
    available: int
    promised: int
    over_age: int
    on_order: int
    wanted: Wanted
    ruling: Ruling
    order_quantity: int
    capped_at: int | None
    demand: Demand
    offer: Offer | None
    why: str

    @property
    def position(self) -> int:
        """What is free and in date or on its way, less what jobs want and have not reserved."""
        return self.available + self.on_order - self.wanted.pieces

    @property
    def per_day(self) -> Fraction:
        """How many are used a day, on the mean."""
        return mean_per_day(self.demand)


@dataclass(frozen=True)
class Reorder:
    """All lines by part, what jobs lack that the catalogue does not have, and what to know."""

    lines: Sequence[ReorderLine]
    unmatched: Sequence[Unmatched]
    notes: Sequence[str] = field(default_factory=tuple)

    @property
    def due(self) -> list[ReorderLine]:
        """The lines of which anything is to be ordered."""
        return [line for line in self.lines if line.order_quantity > 0]

    @property
    def not_judged(self) -> int:
        """Of how many parts nobody can say whether they are due: their policy has failed."""
        return sum(line.ruling.decision is None for line in self.lines)


@dataclass(frozen=True)
class _Look:
    """What is the same for every part."""

    work: Work
    settings: SettingValues
    on_order: Mapping[int, int]

    def days(self, offer: Offer | None) -> tuple[int, int]:
        """Return the days until a parcel of an offer is here at the latest, and those of review."""
        lead = self.settings.count(LEAD_DAYS.name)
        review = self.settings.count(REVIEW_DAYS.name)
        if offer is not None:
            lead = offer.supplier.lead_days + offer.supplier.lead_spread_days
        return lead, review

    def day_of_use(self, offer: Offer | None) -> date:
        """Return the day until which what is there has to last."""
        return self.work.now.date() + timedelta(days=sum(self.days(offer)))

    def demand(self, stock: Stock, offer: Offer | None) -> Demand:
        """Return how a part was wanted."""
        lead, review = self.days(offer)
        period = self.settings.count(PERIOD_DAYS.name)
        return Demand(stock.history, period, Decimal(lead), Decimal(review))


def mean_per_day(demand: Demand) -> Fraction:
    """Return how many were used a day, on the mean of the periods looked back at."""
    if not demand.history:
        return Fraction(0)
    return Fraction(sum(demand.history), len(demand.history) * demand.period_days)


def demand_of(work: Work, part: Part, settings: SettingValues) -> Demand:
    """Return how one part was wanted."""
    look = _Look(work, settings, {})
    offers = offers_of_parts(work.session, [part.id]).get(part.id, [])
    uses = uses_of_parts(work, settings, only=part.id)
    stocks = stock_of_parts(work, settings, [part.id], [work.now.date()], uses)
    return look.demand(stocks[part.id], next(iter(offers), None))


def reorder(work: Work) -> Reorder:
    """Return what is to be ordered, every part looked at."""
    settings = present_values(work.session, work.declared)
    look = _Look(work, settings, on_order(work.session))
    needs = wanted_by_jobs(work)
    thresholds = latest_thresholds(work)
    offers = offers_of_all(work.session)
    uses = uses_of_parts(work, settings)
    ids = {part_id for part_id, each in thresholds.items() if each.policy is not None}
    ids |= uses.keys() | needs.by_part.keys()
    days = {look.day_of_use(offer) for offer in [None, *_first(offers).values()]}
    stocks = stock_of_parts(work, settings, ids, days, uses)
    lines = [
        line_of(
            look,
            part,
            stocks[part.id],
            needs.by_part.get(part.id, Wanted()),
            thresholds.get(part.id),
            next(iter(offers.get(part.id, ())), None),
        )
        for part in _parts(work.session, ids)
    ]
    notes = [*_notes(work, needs.not_looked_at), *_not_judged(lines)]
    return Reorder(lines, needs.unmatched, tuple(notes))


def offers_of_all(session: Session) -> dict[int, list[Offer]]:
    """Return by part what can be ordered, the cheapest piece first."""
    offered = select(Offer.part_id).where(Offer.part_id.is_not(None)).distinct()
    return offers_of_parts(session, [part_id for part_id in session.scalars(offered) if part_id])


def _first(offers: Mapping[int, Sequence[Offer]]) -> dict[int, Offer]:
    return {part_id: each[0] for part_id, each in offers.items()}


def _parts(session: Session, part_ids: set[int]) -> list[Part]:
    found: list[Part] = []
    wanted = sorted(part_ids)
    for start in range(0, len(wanted), AT_ONCE):
        statement = select(Part).where(Part.id.in_(wanted[start : start + AT_ONCE]))
        found += session.scalars(statement.order_by(Part.id))
    return found


def _notes(work: Work, not_looked_at: int) -> list[str]:
    notes = []
    if work.declared.threshold_table is None:
        notes.append(
            "no thresholds are kept: the plugin that keeps them is not loaded, so every part goes "
            "by the workshop's policy"
        )
    if not_looked_at:
        notes.append(f"{not_looked_at} further needs of open jobs were not looked at")
    return notes


def _not_judged(lines: Sequence[ReorderLine]) -> list[str]:
    """Say of which parts nothing is known, because their policy is not there or has failed."""
    parts: dict[str, list[str]] = {}
    for line in lines:
        if line.ruling.decision is None:
            parts.setdefault(line.ruling.why, []).append(line.part.number)
    return [
        f"{len(numbers)} part{'s' if len(numbers) > 1 else ''} could not be judged "
        f"({', '.join(numbers[:MOST_NAMED])}{', …' if len(numbers) > MOST_NAMED else ''}): {why}"
        for why, numbers in parts.items()
    ]


def line_of(
    look: _Look,
    part: Part,
    stock: Stock,
    wanted: Wanted,
    threshold: Threshold | None,
    offer: Offer | None,
) -> ReorderLine:
    """Return the line of one part."""
    demand = look.demand(stock, offer)
    ruling = rule(look.work, threshold, demand, look.settings)
    over_age = stock.over_age_on(look.day_of_use(offer))
    available = stock.free - over_age
    coming = look.on_order.get(part.id, 0)
    position = available + coming - wanted.pieces
    quantity = _plain_quantity(ruling, position, wanted)
    cap = _cap(look, part, demand)
    if cap is not None and quantity:
        room = max(0, cap - available - coming)
        quantity = min(quantity, max(room, -position, 0))
    packed = quantity
    if quantity and offer is not None:
        packed = least_packs(offer, quantity) * offer.pack_pieces
    return ReorderLine(
        part=part,
        available=available,
        promised=stock.promised,
        over_age=over_age,
        on_order=coming,
        wanted=wanted,
        ruling=ruling,
        order_quantity=packed,
        capped_at=cap,
        demand=demand,
        offer=offer,
        why=_why(ruling, position, available, coming, wanted, over_age, (quantity, packed), cap),
    )


def _plain_quantity(ruling: Ruling, position: int, wanted: Wanted) -> int:
    """Return what brings a part to where its policy wants it; without one, what jobs lack."""
    if ruling.decision is None:
        return max(0, -position) if wanted.short else 0
    if position > ruling.decision.reorder_point:
        return 0
    return ruling.decision.order_up_to - position


def _cap(look: _Look, part: Part, demand: Demand) -> int | None:
    """Return how many pieces of what ages will be used in time; None where that is not known.

    Nothing is said of a part that is known for less than a year and was never used.
    """
    scheme = look.settings[AGEING_SCHEME.name]
    rule_of_material = look.work.declared.ageing_rules.get(f"{scheme}_{part.material}")
    if rule_of_material is None or rule_of_material.years is None:
        return None
    known_days = len(demand.history) * demand.period_days
    if not any(demand.history) and known_days < DAYS_IN_A_YEAR:
        return None
    years = look.settings.number(MOST_YEARS.name)
    return math.ceil(mean_per_day(demand) * DAYS_IN_A_YEAR * years)


def _why(
    ruling: Ruling,
    position: int,
    available: int,
    coming: int,
    wanted: Wanted,
    over_age: int,
    quantities: tuple[int, int],
    cap: int | None,
) -> str:
    """Say in one sentence, with its numbers, why so many are to be ordered."""
    parts = [f"{available} free and in date on the day of use"]
    if over_age:
        parts.append(f"{over_age} over age by then")
    if coming:
        parts.append(f"{coming} on order")
    if wanted.pieces:
        parts.append(f"{wanted.pieces} wanted by {', '.join(wanted.jobs[:3])}")
    said = f"{ruling.policy or 'no policy'}: {ruling.why}; {', '.join(parts)}"
    if ruling.decision is None:
        return said
    point, up_to = ruling.decision.reorder_point, ruling.decision.order_up_to
    if position > point:
        return f"{said}: {position} is above {point}, so nothing is due"
    quantity, packed = quantities
    said = f"{said}: {position} is not above {point}, so up to {up_to}"
    if cap is not None and quantity < up_to - position:
        said = f"{said}, but no more than the {cap} that will be used before they age"
    if packed != quantity:
        said = f"{said}; in whole packs {number_text(Fraction(packed), 0)}"
    return said
