"""Until when a lot should be fitted: the ageing rule of its material, in the workshop's scheme."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

from sqlalchemy import ColumnElement, and_, literal, or_, true

from sparewell.extend.host import Declarations
from sparewell.extend.inputs import SettingValues
from sparewell.lots.settings import AGEING_SCHEME
from sparewell.lots.tables import Lot
from sparewell.measure.made_on import add_years, is_past


@dataclass(frozen=True)
class FitBy:
    """The last day on which a lot should be fitted, and from which day that was counted.

    `counted_from` is "made_on" or, where the making date is unknown, "arrived_at".
    """

    day: date | None
    scheme: str | None = None
    counted_from: str | None = None

    def is_past(self, today: date) -> bool:
        """Whether the day is over."""
        return is_past(self.day, today)


def fit_by(lot: Lot, declared: Declarations, settings: SettingValues) -> FitBy:
    """Return until when a lot should be fitted; no rule for its material means no date."""
    scheme = settings.text(AGEING_SCHEME.name)
    rule = declared.ageing_rules.get(f"{scheme}_{lot.material}") if lot.material else None
    if rule is None or rule.years is None:
        return FitBy(None, rule.scheme if rule else None)
    if lot.made_from is not None:
        return FitBy(add_years(lot.made_from, rule.years), rule.scheme, "made_on")
    return FitBy(add_years(lot.arrived_at.date(), rule.years), rule.scheme, "arrived_at")


def over_age(lot: Lot, age: FitBy, today: date) -> int:
    """Return how many free pieces of a lot should have been fitted by now."""
    return lot.available if age.is_past(today) else 0


def in_date(day: date, declared: Declarations, settings: SettingValues) -> ColumnElement[bool]:
    """Return the condition that a lot is not past its date on a day, as :func:`fit_by` counts."""
    scheme = f"{settings.text(AGEING_SCHEME.name)}_"
    materials: dict[int, list[str]] = {}
    for name, rule in declared.ageing_rules.items():
        if name.startswith(scheme) and rule.years is not None:
            materials.setdefault(rule.years, []).append(name.removeprefix(scheme))
    return _in_date(day, tuple((years, tuple(of)) for years, of in materials.items()))


@lru_cache
def _in_date(day: date, materials: tuple[tuple[int, tuple[str, ...]], ...]) -> ColumnElement[bool]:
    """Return the condition; of one day it is the same, so that statements can be kept."""
    return and_(true(), *(_younger(day, years, of) for years, of in materials))


def _younger(day: date, years: int, materials: Sequence[str]) -> ColumnElement[bool]:
    oldest = _oldest(day, years)
    arrived = datetime.combine(oldest, time(), UTC)
    return or_(
        Lot.made_from >= oldest,
        Lot.material.is_(None),
        Lot.material.not_in([literal(each) for each in materials]),
        and_(Lot.made_from.is_(None), Lot.arrived_at >= arrived),
    )


def _oldest(day: date, years: int) -> date:
    """Return the first day from which so many years reach to this one, or beyond it."""
    oldest = add_years(day, -years)
    return oldest if add_years(oldest, years) >= day else oldest + timedelta(days=1)
