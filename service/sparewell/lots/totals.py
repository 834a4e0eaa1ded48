"""How much is free of some lots, counted where they are kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sqlalchemy import Select, case, func
from sqlalchemy.orm import lazyload

from sparewell.lots.ageing import in_date
from sparewell.lots.conditions import Condition
from sparewell.lots.tables import Lot
from sparewell.settings.operations import present_values
from sparewell.work import Work

# An offcut is not what its kind says, and nobody knows yet that an unchecked piece is good.
NOT_COUNTED: Final = (Condition.OFFCUT, Condition.UNCHECKED)


@dataclass(frozen=True)
class LotTotal:
    """How many lots there are, how many pieces are free, and how many of these are over age."""

    lots: int
    available: int
    over_age: int


def total_of(work: Work, lots: Select[Lot]) -> LotTotal:
    """Count the lots of a statement and what is free of them, in one statement."""
    is_good = in_date(work.now.date(), work.declared, present_values(work.session, work.declared))
    free = Lot.in_hand - Lot.promised
    statement = (
        lots.where(Lot.condition.is_(None) | Lot.condition.not_in(NOT_COUNTED))
        .options(lazyload("*"))
        .with_only_columns(
            func.count(Lot.id),
            func.coalesce(func.sum(free), 0),
            func.coalesce(func.sum(case((is_good, 0), else_=free)), 0),
            maintain_column_froms=True,
        )
    )
    number, available, over_age = work.session.execute(statement).one()
    return LotTotal(number, int(available), int(over_age))
