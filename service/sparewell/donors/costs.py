"""What a donor cost, divided over the pieces that are left of it.

It is divided by the values that are said of its components, so that one without a value carries
nothing; where none has one, evenly. It is divided anew whenever the cost, a value or the checklist
changes: a piece that turns out to be missing or damaged leaves its share to the others. What was
fitted, ruined or thrown away took its share along, and only the rest is divided.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from sparewell.donors.tables import Component, Donor
from sparewell.errors import Impossible
from sparewell.handling.freeing import locked_free
from sparewell.ledger.operations import LedgerLine, record
from sparewell.ledger.tables import Movement, Verb
from sparewell.lots.tables import Lot
from sparewell.measure.money import money_text, shares
from sparewell.work import Work

_TAKES_ALONG = (
    Verb.FITTED,
    Verb.SPOILED,
    Verb.PUT_BACK,
    Verb.DISCARDED,
    Verb.COUNTED,
    Verb.UNDONE,
)


def set_cost(work: Work, donor: Donor, cost: int | None) -> None:
    """Say what a locked donor cost, and divide it; None takes it away. Raises Impossible."""
    donor.cost_minor = cost
    locked_free(work, _left_of(work.session, donor), ())
    _divide(work, donor, cost)


def hold(work: Work, donor: Donor) -> None:
    """Lock all that is left of a donor whose cost will have to be divided anew."""
    if donor.cost_minor is not None:
        locked_free(work, _left_of(work.session, donor), ())


def divide_anew(work: Work, donor: Donor) -> None:
    """Divide the cost of a donor whose pieces are held, if there is any."""
    if donor.cost_minor is not None:
        _divide(work, donor, donor.cost_minor)


def _divide(work: Work, donor: Donor, cost: int | None) -> None:
    work.session.flush()
    lots = _left_of(work.session, donor)
    if not lots:
        return
    carried = [None] * len(lots) if cost is None else _carried(work.session, donor, cost, lots)
    lines = []
    for lot, share in zip(lots, carried, strict=True):
        more = (share or 0) - (lot.cost_minor or 0)
        lot.cost_minor = share
        if more:
            lines.append(LedgerLine(lot, Verb.VALUED, 0, 0, cost_change_minor=more))
    if lines:
        record(work, f"what {donor.number} cost, divided over what is left of it", *lines)
    work.session.flush()


def _left_of(session: Session, donor: Donor) -> Sequence[Lot]:
    """Return the pieces of a donor that are in hand, wherever they lie."""
    statement = select(Lot).where(Lot.donor_id == donor.id, Lot.in_hand > 0).order_by(Lot.id)
    return session.scalars(statement).unique().all()


def _carried(session: Session, donor: Donor, cost: int, lots: Sequence[Lot]) -> list[int]:
    """Return what each piece is to carry. Raises Impossible where others took more along."""
    gone = _taken_along(session, donor)
    if gone > cost:
        raise Impossible.at(
            "/cost",
            f"pieces of {donor.number} that were used or thrown away took {money_text(gone)} of "
            f"its cost along, so it cannot have cost {money_text(cost)}",
        )
    said = select(Component.lot_id, Component.value_minor).where(Component.donor_id == donor.id)
    values = {lot_id: value or 0 for lot_id, value in session.execute(said)}
    weights = [values.get(lot.id, 0) for lot in lots]
    return shares(cost - gone, weights if any(weights) else [1] * len(lots))


def _taken_along(session: Session, donor: Donor) -> int:
    """Return the cost that pieces took along which are gone, less what came back."""
    statement = (
        select(func.sum(Movement.cost_change_minor))
        .join(Lot, Lot.id == Movement.lot_id)
        .where(Lot.donor_id == donor.id, Movement.verb.in_(_TAKES_ALONG))
    )
    return -int(session.scalar(statement) or 0)
