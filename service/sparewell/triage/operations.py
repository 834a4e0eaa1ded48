"""Which of a batch of pens to open first: what each lacks, costs to finish, and would fetch.

Those for which everything is in hand come first, then those that leave most. A piece is counted
once: whoever stands earlier in the list has it. The cost is that of the parts alone; time, postage
and what was paid for the pen are not in it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sparewell.errors import Broken, Impossible
from sparewell.jobs.costs import parts_costs
from sparewell.jobs.selling import fetches
from sparewell.lots.tables import Lot
from sparewell.measure.money import money_text, take_share
from sparewell.pens.tables import Pen
from sparewell.triage.needs import BatchNeed, BatchPen, LeftOut, batch_of, needs_of
from sparewell.triage.past import Past, PastSizes
from sparewell.triage.schemas import SizedBy
from sparewell.triage.sources import Supply, supplies_of
from sparewell.work import Work


@dataclass(frozen=True)
class TriagedNeed:
    """One thing that a pen would need, what of it is in hand for this pen, and what it costs."""

    need: BatchNeed
    title: str
    system: str
    supply: Supply
    takes: Mapping[int, int]
    cost_minor: int | None

    @property
    def lacking(self) -> int:
        """How many pieces are not in hand, or those before it in the list have them."""
        return self.need.quantity - sum(self.takes.values())

    @property
    def sized_by(self) -> SizedBy:
        """What its size is known by."""
        if self.need.asked is not None:
            return SizedBy.READINGS
        return SizedBy.NOTHING if self.need.past is None else SizedBy.PENS_ALIKE

    @property
    def says(self) -> str:
        """What to look for, as far as it is known."""
        if self.need.past is not None:
            return f"{self.title}, {_as_pens_alike(self.need.past, self.system)}"
        if self.need.asked is not None:
            return _sized_by_readings(self.need) or self.title
        return f"{self.title} of a size that nobody knows yet"


@dataclass(frozen=True)
class TriagedPen:
    """A pen of the batch, and why it stands where it does."""

    pen: BatchPen
    needs: Sequence[TriagedNeed]
    promised_minor: int | None
    value: tuple[int, str] | None

    @property
    def counted(self) -> Sequence[TriagedNeed]:
        """What it cannot do without, as far as that is known unopened."""
        return [each for each in self.needs if each.need.counts]

    @property
    def is_closed_book(self) -> bool:
        """Whether nothing can be said before it is open: all that it may need is decided then."""
        return not self.counted and any(not each.need.row.decided for each in self.needs)

    @property
    def all_in_hand(self) -> bool:
        """Whether nothing that it cannot do without is lacking."""
        return not self.is_closed_book and all(each.lacking == 0 for each in self.counted)

    @property
    def parts_cost_minor(self) -> int | None:
        """What its parts cost, those promised to it with them; None where any is not known."""
        if self.is_closed_book or self.promised_minor is None:
            return None
        costs = [each.cost_minor for each in self.counted]
        known = [cost for cost in costs if cost is not None]
        return self.promised_minor + sum(known) if len(known) == len(costs) else None

    @property
    def left_minor(self) -> int | None:
        """What it fetches less what its parts cost; None where either is not known."""
        cost = self.parts_cost_minor
        return None if self.value is None or cost is None else self.value[0] - cost

    @property
    def fetches(self) -> int | None:
        """What it fetches, or might."""
        return self.value[0] if self.value else None

    @property
    def fetches_by(self) -> str | None:
        """Where it is said what it fetches."""
        return self.value[1] if self.value else None

    @property
    def left(self) -> str | None:
        """The same as a text, since it may be less than nothing."""
        left = self.left_minor
        return None if left is None else money_text(left)

    @property
    def why(self) -> str:
        """Why it stands where it does, in a sentence."""
        return "; ".join((_what_lacks(self), _what_is_left(self)))

    @cached_property
    def takes(self) -> Mapping[int, int]:
        """How many of which lots it would have in all."""
        return sum((Counter(each.takes) for each in self.needs), Counter())

    @cached_property
    def order(self) -> tuple[bool, bool, int, int]:
        """What puts first those that can be finished, then those that leave most."""
        left = self.left_minor
        return (not self.all_in_hand, left is None, -(left or 0), self.pen.row.id)


@dataclass(frozen=True)
class Triage:
    """A batch in the order in which to open its pens, and what of it is not to be opened."""

    pens: Sequence[TriagedPen]
    left_out: Sequence[LeftOut]


def triage(work: Work, pens: Sequence[Pen], left_out: Sequence[LeftOut] = ()) -> Triage:
    """Return which of these pens to open first, and why. Changes nothing."""
    batch, others = batch_of(work, pens)
    if not batch:
        return Triage((), (*others, *left_out))
    past = Past(work, [each.row for each in batch])
    needs = [(pen, need) for pen in batch for need in needs_of(work, pen, past)]
    supplies = supplies_of(work, [(pen.row, need) for pen, need in needs])
    of_pen: dict[int, list[tuple[BatchNeed, Supply]]] = {each.row.id: [] for each in batch}
    for place, (pen, need) in enumerate(needs):
        of_pen[pen.row.id].append((need, supplies[place]))
    jobs = [each.open_job for each in batch if each.open_job is not None]
    costs = parts_costs(work.session, jobs)
    promised = {
        job.pen_id: None if costs[job.id].unknown_pieces else costs[job.id].promised for job in jobs
    }
    waiting = [_Unplaced(each, of_pen[each.row.id], promised.get(each.row.id, 0)) for each in batch]
    return Triage(_in_order(work, waiting), (*others, *left_out))


@dataclass(frozen=True)
class _Unplaced:
    """A pen that has no place in the list yet, and what it could have."""

    pen: BatchPen
    needs: Sequence[tuple[BatchNeed, Supply]]
    promised_minor: int | None


def _in_order(work: Work, waiting: Sequence[_Unplaced]) -> list[TriagedPen]:
    """Take the first again and again; whoever loses a piece to it is looked at anew."""
    free = {
        lot.id: lot.available for each in waiting for _, supply in each.needs for lot in supply.lots
    }
    by_pen = {each.pen.row.id: each for each in waiting}
    found = {pen_id: _looked_at(work, each, free) for pen_id, each in by_pen.items()}
    in_order = []
    while found:
        first = min(found.values(), key=lambda each: each.order)
        del found[first.pen.row.id]
        in_order.append(first)
        for need in first.counted:
            for lot_id, pieces in need.takes.items():
                free[lot_id] -= pieces
        for pen_id, each in found.items():
            if any(free[lot_id] < pieces for lot_id, pieces in each.takes.items()):
                found[pen_id] = _looked_at(work, by_pen[pen_id], free)
    return in_order


def _looked_at(work: Work, waiting: _Unplaced, free: Mapping[int, int]) -> TriagedPen:
    """Return what a pen could have of what is free yet."""
    pen, free = waiting.pen, dict(free)
    found = []
    for need, supply in waiting.needs:
        takes = _taken_for(need, supply, free)
        for lot_id, pieces in takes.items():
            free[lot_id] -= pieces
        kind = work.declared.kinds.get(need.row.kind)
        title = kind.title.lower() if kind else need.row.kind
        cost = _cost(need, supply, takes)
        found.append(TriagedNeed(need, title, pen.row.filling_system, supply, takes, cost))
    return TriagedPen(pen, found, waiting.promised_minor, fetches(pen.row, pen.open_job))


def _taken_for(need: BatchNeed, supply: Supply, free: Mapping[int, int]) -> dict[int, int]:
    """Return how many of which lots a need would have; none where its size is not known."""
    takes: dict[int, int] = {}
    if need.asked is None and need.past is None:
        return takes
    lacking = need.quantity
    for lot in supply.lots:
        pieces = min(lacking, free[lot.id])
        if pieces > 0:
            takes[lot.id] = pieces
            lacking -= pieces
    return takes


def _cost(need: BatchNeed, supply: Supply, takes: Mapping[int, int]) -> int | None:
    """Return what a need costs: shares of lots in hand, and the offered price for the rest."""
    costs = [_share(lot, takes[lot.id]) for lot in supply.lots if lot.id in takes]
    lacking = need.quantity - sum(takes.values())
    if lacking:
        costs.append(None if supply.price_minor is None else supply.price_minor * lacking)
    known = [cost for cost in costs if cost is not None]
    return sum(known) if len(known) == len(costs) else None


def _share(lot: Lot, pieces: int) -> int | None:
    return None if lot.cost_minor is None else take_share(lot.cost_minor, lot.in_hand, pieces)


def _sized_by_readings(need: BatchNeed) -> str:
    """Return what the calculator says to look for."""
    if need.asked is None:
        return ""
    try:
        advice = need.asked.run.advise()
    except (Impossible, Broken):
        advice = None
    if advice is not None:
        return advice.look_for
    return next((each.ask_for for each in need.asked.envelope.to_buy), "")


def _as_pens_alike(past: PastSizes, system: str) -> str:
    """Return what pens alike took, and how many they were."""
    of_what = "of this model" if past.same_model else f"with this filling system ({system})"
    plural = "s" if past.pens > 1 else ""
    return f"like {past.pens} pen{plural} {of_what} here: {past.sizes}"


def _what_lacks(found: TriagedPen) -> str:
    if found.is_closed_book:
        kinds = dict.fromkeys(each.title for each in found.needs)
        return f"what it needs only shows when it is open ({', '.join(kinds)}, or none)"
    unknown = [each.title for each in found.counted if each.sized_by is SizedBy.NOTHING]
    lacking = [
        each for each in found.counted if each.lacking and each.sized_by is not SizedBy.NOTHING
    ]
    likely = [each.says for each in found.counted if each.need.past is not None]
    told = []
    if lacking:
        told.append(f"not in hand: {', and '.join(_lacking(each) for each in lacking)}")
    if unknown:
        told.append(f"nobody knows yet which size: {', '.join(dict.fromkeys(unknown))}")
    if not told and likely:
        return f"all that it is likely to need is in hand: {', and '.join(likely)}"
    return "; ".join(told) or "all it needs is in hand"


def _lacking(each: TriagedNeed) -> str:
    many = f" ({each.lacking} pieces)" if each.lacking > 1 else ""
    is_gone = each.supply.in_hand > sum(each.takes.values())
    return f"{each.says}{many}{', which those above have' if is_gone else ''}"


def _what_is_left(found: TriagedPen) -> str:
    cost, left = found.parts_cost_minor, found.left_minor
    if found.is_closed_book:
        return "nor is it known what its parts cost"
    if cost is None:
        unknown = [each.title for each in found.counted if each.cost_minor is None]
        return f"what its parts cost is not known: {', '.join(dict.fromkeys(unknown))}"
    if found.fetches is None or left is None:
        return f"its parts cost {money_text(cost)}, and nobody has said what it might fetch"
    return (
        f"{money_text(left)} is left of {money_text(found.fetches)}, its parts at "
        f"{money_text(cost)}"
    )
