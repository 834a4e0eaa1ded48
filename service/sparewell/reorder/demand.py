"""How parts were used, and what is there of them: a few statements, however many parts there are.

Use is what the ledger calls fitted and spoiled (a setting may count otherwise), less what was
undone. It is counted in whole periods back from now, the first being the first whole one after the
part's first lot came. In stock are the pieces of the part as they arrived or as good as new; cut
and used ones and offcuts are no longer what one would buy.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, cast

from sqlalchemy import ColumnElement, case, func, not_, or_, select

from sparewell.extend.inputs import SettingValues
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.ageing import fit_by, in_date
from sparewell.lots.conditions import Condition
from sparewell.lots.tables import Lot
from sparewell.reorder.settings import PERIOD_DAYS, PERIODS, WANTED_VERBS
from sparewell.work import Work

_VERBS = {
    "fitted": (Verb.FITTED,),
    "fitted and spoiled": (Verb.FITTED, Verb.SPOILED),
    "fitted, spoiled and discarded": (Verb.FITTED, Verb.SPOILED, Verb.DISCARDED),
}


@dataclass(frozen=True)
class Ageing:
    """So many free pieces of a part that have to be fitted by a day."""

    pieces: int
    fit_by: date


@dataclass
class Stock:
    """What is there of a part, and how it was used, the oldest period first.

    `was_used` counts what was used before the first whole period too.
    """

    free: int = 0
    promised: int = 0
    first_at: datetime | None = None
    ageing: list[Ageing] = field(default_factory=list)
    history: tuple[int, ...] = ()
    was_used: bool = False

    def over_age_on(self, day: date) -> int:
        """Return how many of the free pieces will be past their date on a day."""
        return sum(each.pieces for each in self.ageing if each.fit_by < day)


def stock_of_parts(
    work: Work, settings: SettingValues, last_day: date, only: int | None = None
) -> dict[int, Stock]:
    """Return by part what is there and how it was used; or of one part alone.

    Pieces that keep beyond the last day that anybody asks about are not listed as ageing.
    """
    found: dict[int, Stock] = {}
    free = Lot.in_hand - Lot.promised
    statement = select(
        Lot.part_id,
        func.min(Lot.arrived_at),
        func.sum(case((_is_whole(), free), else_=0)),
        func.sum(Lot.promised),
    ).group_by(Lot.part_id)
    of_parts = Lot.part_id.is_not(None) if only is None else Lot.part_id == only
    for part_id, first_at, pieces, promised in work.session.execute(statement.where(of_parts)):
        found[part_id] = Stock(int(pieces), int(promised), first_at)
    _add_ageing(work, found, settings, last_day, of_parts)
    _add_history(work, found, settings, of_parts)
    return found


def _is_whole() -> ColumnElement[bool]:
    return or_(Lot.condition.is_(None), Lot.condition == Condition.AS_NEW)


def _add_ageing(
    work: Work,
    found: dict[int, Stock],
    settings: SettingValues,
    last_day: date,
    of_parts: ColumnElement[bool],
) -> None:
    statement = select(
        Lot.part_id, Lot.material, Lot.made_from, Lot.arrived_at, Lot.in_hand - Lot.promised
    ).where(
        of_parts,
        Lot.has_available,
        _is_whole(),
        not_(in_date(last_day, work.declared, settings)),
    )
    for row in work.session.execute(statement):
        day = fit_by(_as_lot(row), work.declared, settings).day
        assert day is not None  # noqa: S101 - the statement asked for those that have one
        stock = found.get(row[0] or 0)
        if stock is not None:  # else its first lot has come this very moment
            stock.ageing.append(Ageing(row[4], day))


def _as_lot(row: Any) -> Lot:
    """Let a row stand for a lot: it has the columns by which age is counted, and is far lighter."""
    return cast("Lot", row)


def _add_history(
    work: Work,
    found: dict[int, Stock],
    settings: SettingValues,
    of_parts: ColumnElement[bool],
) -> None:
    period, periods = settings.count(PERIOD_DAYS.name), settings.count(PERIODS.name)
    starts = [work.now - timedelta(days=period * back) for back in range(1, periods + 1)]
    age = case(*[(Act.at > start, back) for back, start in enumerate(starts)], else_=periods)
    statement = (
        select(Lot.part_id, age.label("age"), func.sum(Movement.pieces))
        .join(Movement, Movement.lot_id == Lot.id)
        .join(Act, Act.id == Movement.act_id)
        .where(
            Movement.verb.in_(_VERBS[settings.text(WANTED_VERBS.name)]),
            of_parts,
            Act.at > starts[-1],
            Act.id.not_in(select(Act.undoes_act_id).where(Act.undoes_act_id.is_not(None))),
        )
        .group_by(Lot.part_id, "age")
    )
    used: dict[int, dict[int, int]] = {}
    for part_id, back, pieces in work.session.execute(statement):
        used.setdefault(part_id, {})[back] = int(pieces)
    for part_id, stock in found.items():
        first_at = stock.first_at or work.now
        whole = min(periods, (work.now - first_at) // timedelta(days=period))
        by_age = used.get(part_id, {})
        stock.was_used = bool(by_age)
        stock.history = tuple(by_age.get(back, 0) for back in range(whole - 1, -1, -1))
