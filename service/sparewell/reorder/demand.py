"""How parts were used, and what is there of them: a few statements, however many parts there are.

Use is what the ledger calls fitted and spoiled (a setting may count otherwise), less what was
undone. It is counted in whole periods back from now, the first being the first whole one after the
part's first lot came. In stock are the pieces of the part as they arrived or as good as new; cut
and used ones and offcuts are no longer what one would buy.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from sqlalchemy import ColumnElement, case, func, null, or_, select, true

from sparewell.extend.inputs import SettingValues
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.ageing import in_date
from sparewell.lots.conditions import Condition
from sparewell.lots.tables import Lot
from sparewell.reorder.settings import PERIOD_DAYS, PERIODS, WANTED_VERBS
from sparewell.work import Work

AT_ONCE = 10_000  # databases take only so many values in one statement
_VERBS = {
    "fitted": (Verb.FITTED,),
    "fitted and spoiled": (Verb.FITTED, Verb.SPOILED),
    "fitted, spoiled and discarded": (Verb.FITTED, Verb.SPOILED, Verb.DISCARDED),
}
# By part and by how many whole periods ago, how many pieces were used.
Uses = Mapping[int, Mapping[int, int]]


@dataclass
class Stock:
    """What is there of a part, and how it was used, the oldest period first.

    `over_age` counts free pieces by the first day asked about on which they are past theirs.
    """

    free: int = 0
    promised: int = 0
    first_at: datetime | None = None
    over_age: dict[date, int] = field(default_factory=dict)
    history: tuple[int, ...] = ()

    def over_age_on(self, day: date) -> int:
        """Return how many of the free pieces are past their date on a day that was asked about."""
        return sum(pieces for since, pieces in self.over_age.items() if since <= day)


def uses_of_parts(work: Work, settings: SettingValues, only: int | None = None) -> Uses:
    """Return how parts were used in the periods looked back at; or one part alone.

    What was used before the first whole period is among it too.
    """
    period, periods = settings.count(PERIOD_DAYS.name), settings.count(PERIODS.name)
    starts = [work.now - timedelta(days=period * back) for back in range(1, periods + 1)]
    age = case(*[(Act.at > start, back) for back, start in enumerate(starts)], else_=periods)
    verbs = _VERBS[settings.text(WANTED_VERBS.name)]
    # What was promised first is found among few lines; whatever is discarded may be free.
    was_promised = true() if Verb.DISCARDED in verbs else Movement.reservation_id.is_not(None)
    statement = (
        select(Lot.part_id, age.label("age"), func.sum(Movement.pieces))
        .join(Movement, Movement.lot_id == Lot.id)
        .join(Act, Act.id == Movement.act_id)
        .where(
            Movement.verb.in_(verbs),
            was_promised,
            Lot.part_id.is_not(None) if only is None else Lot.part_id == only,
            Act.at > starts[-1],
            Act.id.not_in(select(Act.undoes_act_id).where(Act.undoes_act_id.is_not(None))),
        )
        .group_by(Lot.part_id, "age")
    )
    used: dict[int, dict[int, int]] = {}
    for part_id, back, pieces in work.session.execute(statement):
        used.setdefault(part_id or 0, {})[back] = int(pieces)
    return used


def stock_of_parts(
    work: Work,
    settings: SettingValues,
    part_ids: Collection[int],
    days: Collection[date],
    uses: Uses,
) -> dict[int, Stock]:
    """Return by part what is there, how much of it is past its date on each day, and its use."""
    found = {part_id: Stock() for part_id in part_ids}
    asked, ids = sorted(days), sorted(found)
    since = _over_age_since(work, settings, asked)
    free = func.sum(case((_is_whole(), Lot.in_hand - Lot.promised), else_=0))
    statement = select(
        Lot.part_id, since, func.min(Lot.arrived_at), free, func.sum(Lot.promised)
    ).group_by(Lot.part_id, "since")
    for start in range(0, len(ids), AT_ONCE):
        of_parts = statement.where(Lot.part_id.in_(ids[start : start + AT_ONCE]))
        for part_id, position, first_at, pieces, promised in work.session.execute(of_parts):
            stock = found[part_id or 0]
            stock.free += int(pieces)
            stock.promised += int(promised)
            stock.first_at = min(first_at, stock.first_at or first_at)
            if position is not None:
                stock.over_age[asked[position]] = int(pieces)
    for part_id, stock in found.items():
        stock.history = _history(work, settings, stock.first_at, uses.get(part_id, {}))
    return found


def _over_age_since(
    work: Work, settings: SettingValues, days: list[date]
) -> ColumnElement[int | None]:
    """Return the position of the first of some days, in order, on which a lot is past its date."""
    keeps = [in_date(day, work.declared, settings) for day in days]
    # `IS NOT TRUE` holds too where the condition cannot tell: of a bag without a making date.
    past = [(condition.is_not(true()), position) for position, condition in enumerate(keeps)]
    return case((keeps[-1], null()), *past).label("since")  # most keep beyond the last one


def _is_whole() -> ColumnElement[bool]:
    return or_(Lot.condition.is_(None), Lot.condition == Condition.AS_NEW)


def _history(
    work: Work, settings: SettingValues, first_at: datetime | None, used: Mapping[int, int]
) -> tuple[int, ...]:
    """Return the use in each whole period since the first lot came, the oldest one first."""
    period, periods = settings.count(PERIOD_DAYS.name), settings.count(PERIODS.name)
    age = work.now - (first_at or work.now)
    whole = min(periods, age // timedelta(days=period))
    return tuple(used.get(back, 0) for back in range(whole - 1, -1, -1))
