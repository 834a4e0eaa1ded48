"""What was fitted, with all that an outcome is held against: one row for each promise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.jobs.tables import Job, Need
from sparewell.ledger.tables import Act, Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.outcomes.operations import is_the_latest
from sparewell.outcomes.tables import Outcome, TurnedOut
from sparewell.reservations.tables import Reservation

DAYS_A_MONTH: Final = 30.4375  # a year of 365.25 days
_FITTED_AT: Final = (
    select(func.min(Act.at))
    .join(Movement, Movement.act_id == Act.id)
    .where(Movement.reservation_id == Reservation.id, Movement.verb == Verb.FITTED)
    .correlate(Reservation)
    .scalar_subquery()
)
# Columns, no rows of their own: there may be tens of thousands.
_ALL: Final = (
    select(
        Lot.id,
        Lot.kind,
        Lot.material,
        Job.pen_id,
        Reservation.calculator,
        Reservation.margins,
        func.coalesce(func.nullif(Reservation.glue, ""), Job.glue),
        Need.given,
        Outcome.outcome,
        Outcome.happened_on,
        Outcome.at,
        _FITTED_AT,
    )
    .select_from(Reservation)
    .join(Lot, Lot.id == Reservation.lot_id)
    .join(Job, Job.id == Reservation.job_id)
    .outerjoin(Need, Need.id == Reservation.need_id)
    .outerjoin(Outcome, is_the_latest())
    .where(Reservation.used > 0)
    .order_by(Reservation.id)
)


@dataclass(frozen=True)
class Fitted:
    """Pieces of one promise that went into a pen; without an outcome nobody has said how they are.

    `margins` are nanometres or numbers, `months` how long after fitting it was last heard of them.
    """

    lot_id: int
    kind: str
    material: str | None
    pen_id: int
    calculator: str | None
    margins: Mapping[str, int | Decimal]
    glue: str
    given: Mapping[str, Any]
    outcome: str | None
    months: float | None

    @property
    def has_failed(self) -> bool:
        """Whether it turned out otherwise than well."""
        return self.outcome is not None and self.outcome != TurnedOut.GOOD


def all_fitted(session: Session) -> Sequence[Fitted]:
    """Return what was ever fitted, in the order in which it was promised, in one statement."""
    return [_read(*row) for row in session.connection().execute(_ALL)]


def _read(*row: Any) -> Fitted:
    lot_id, kind, material, pen_id, calculator, margins, glue, given, *heard = row
    outcome, day, noted, fitted_at = heard
    return Fitted(
        lot_id,
        kind,
        material,
        pen_id,
        calculator,
        _numbers(margins),
        glue,
        given or {},
        outcome,
        _months(fitted_at, day, noted),
    )


def _numbers(kept: Mapping[str, int | str]) -> dict[str, int | Decimal]:
    return {
        name: Decimal(value) if isinstance(value, str) else value for name, value in kept.items()
    }


def _months(fitted_at: datetime | None, day: date | None, noted: datetime | None) -> float | None:
    if noted is None or fitted_at is None:
        return None
    found = day or noted.date()
    return max(0, (found - fitted_at.date()).days) / DAYS_A_MONTH
