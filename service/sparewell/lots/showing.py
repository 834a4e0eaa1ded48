"""What is shown of lots, a whole list at once: each with its age and what is said against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sparewell.lots.ageing import FitBy, fit_by, over_age
from sparewell.lots.claims import basis
from sparewell.lots.doubts import doubts_of
from sparewell.lots.operations import measured_nanometres
from sparewell.lots.tables import Lot
from sparewell.settings.operations import present_values
from sparewell.work import Work


@dataclass(frozen=True)
class ShownLot:
    """A lot, until when it should be fitted, how its dimensions are known, and any doubts."""

    row: Lot
    age: FitBy
    over_age: int
    measured: dict[str, int]
    basis: dict[str, str]
    warnings: list[str]


def shown_lots(work: Work, lots: Sequence[Lot]) -> list[ShownLot]:
    """Return lots as they are shown."""
    declared = work.declared
    settings = present_values(work.session, declared)
    today = work.now.date()
    shown = []
    for lot in lots:
        age = fit_by(lot, declared, settings)
        late = over_age(lot, age, today)
        doubts = doubts_of(declared.kinds.get(lot.kind), lot, age)
        shown.append(ShownLot(lot, age, late, measured_nanometres(lot), basis(lot), doubts))
    return shown


def shown_lot(work: Work, lot: Lot) -> ShownLot:
    """Return one lot as it is shown."""
    return shown_lots(work, [lot])[0]
