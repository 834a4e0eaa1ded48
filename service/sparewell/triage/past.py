"""What went into pens alike, for what nobody can measure through a closed barrel.

Alike are pens of the same model note, where any of them took such a piece; else those of the same
filling system. What turned out tight or loose is no guide.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

from sqlalchemy import Select, case, func, or_, select

from sparewell.extend.declarations import Range
from sparewell.jobs.tables import Job, Need
from sparewell.lots.tables import Lot
from sparewell.outcomes.operations import is_the_latest, size_of
from sparewell.outcomes.tables import Outcome, TurnedOut
from sparewell.pens.tables import Pen
from sparewell.reservations.tables import Reservation
from sparewell.work import Work

MOST_OF_A_SYSTEM = 500
_NO_GUIDE = (TurnedOut.TIGHT, TurnedOut.LOOSE)
_QUARTERS = 4  # how much of a size two bags of the same one may lie apart


@dataclass(frozen=True)
class PastSizes:
    """What so many pens alike took for the same need, from the smallest to the largest.

    `range` is of the leading dimension of the kind, as the pieces measured, and `ideal` the middle
    one of these; `most_often` was fitted so many `times`.
    """

    pens: int
    smallest: str
    largest: str
    most_often: str
    times: int
    range: Range
    ideal: int
    same_model: bool

    @property
    def sizes(self) -> str:
        """The sizes in words."""
        if self.smallest == self.largest:
            return self.smallest
        return f"{self.smallest} to {self.largest}, most often {self.most_often}"


class Past:
    """What went into pens alike a batch, looked up once for all of them."""

    def __init__(self, work: Work, pens: Sequence[Pen]) -> None:
        self._work = work
        self._fitted: defaultdict[tuple[str, ...], list[tuple[int, Lot]]] = defaultdict(list)
        for pen_id, system, model, seals_where, lot in work.session.execute(_statement(pens)):
            of_system = system, lot.kind, seals_where
            self._fitted[of_system].append((pen_id, lot))
            if model:
                self._fitted[(*of_system, model)].append((pen_id, lot))

    def sizes(self, pen: Pen, need: Need) -> PastSizes | None:
        """Return what pens alike took for a need; None where nobody has fitted such a piece."""
        key = pen.filling_system, need.kind, need.seals_where
        of_model = self._fitted.get((*key, pen.model_key), []) if pen.model_key else []
        fitted = of_model or self._fitted.get(key, [])
        kind = self._work.declared.kinds.get(need.kind)
        if kind is None:
            return None
        known = [
            (lot.dimensions[kind.led_by], pen_id, lot)
            for pen_id, lot in fitted
            if kind.led_by in lot.dimensions
        ]
        if not known:
            return None
        known.sort(key=itemgetter(0))
        near = (kind.size_step or 0) // _QUARTERS
        sizes = [size_of(self._work.declared, lot) for *_, lot in known]
        often, times = Counter(sizes).most_common(1)[0]
        return PastSizes(
            pens=len({pen_id for _, pen_id, _ in known}),
            smallest=sizes[0],
            largest=sizes[-1],
            most_often=often,
            times=times,
            range=Range(known[0][0] - near, known[-1][0] + near),
            ideal=known[len(known) // 2][0],
            same_model=bool(of_model),
        )


def _statement(pens: Sequence[Pen]) -> Select[Any]:
    """Return what was fitted to pens alike: of each system the newest, those of a model first."""
    models = {pen.model_key for pen in pens if pen.model_key}
    is_of_a_model = case((Pen.model_key.in_(models), 0), else_=1)
    place = func.row_number().over(
        partition_by=Pen.filling_system, order_by=(is_of_a_model, Reservation.id.desc())
    )
    fitted = (
        select(
            Reservation.lot_id,
            Pen.id.label("pen_id"),
            Pen.filling_system,
            Pen.model_key,
            Need.seals_where,
            place.label("place"),
        )
        .join(Job, Job.id == Reservation.job_id)
        .join(Pen, Pen.id == Job.pen_id)
        .join(Need, Need.id == Reservation.need_id)
        .outerjoin(Outcome, is_the_latest())
        .where(
            Reservation.used > 0,
            Pen.filling_system.in_({pen.filling_system for pen in pens}),
            Pen.id.not_in([pen.id for pen in pens]),
            or_(Outcome.outcome.is_(None), Outcome.outcome.not_in(_NO_GUIDE)),
        )
        .subquery()
    )
    return (
        select(
            fitted.c.pen_id,
            fitted.c.filling_system,
            fitted.c.model_key,
            fitted.c.seals_where,
            Lot,
        )
        .join(Lot, Lot.id == fitted.c.lot_id)
        .where(fitted.c.place <= MOST_OF_A_SYSTEM)
    )
