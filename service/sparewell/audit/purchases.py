"""Whether the shares of pens bought together add up to what was paid. They must always."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import func, select, union_all
from sqlalchemy.orm import Session

from sparewell.donors.tables import Donor
from sparewell.measure.money import money_text
from sparewell.pens.tables import Pen
from sparewell.purchases.tables import PenPurchase


def purchase_faults(session: Session) -> Iterator[str]:
    """Yield each purchase whose pens and donors did not cost together what was paid for them."""
    bought = union_all(
        *(
            select(kind.purchase_id, kind.cost_minor).where(kind.purchase_id.is_not(None))
            for kind in (Pen, Donor)
        )
    ).subquery()
    paid = PenPurchase.price_minor + func.coalesce(PenPurchase.postage_minor, 0)
    shares = func.coalesce(func.sum(bought.c.cost_minor), 0)
    statement = (
        select(PenPurchase.id, paid, shares)
        .outerjoin(bought, bought.c.purchase_id == PenPurchase.id)
        .group_by(PenPurchase.id, PenPurchase.price_minor, PenPurchase.postage_minor)
        .having(shares != paid)
        .order_by(PenPurchase.id)
    )
    for purchase_id, total, added_up in session.execute(statement):
        yield (
            f"purchase {purchase_id}: {money_text(total)} was paid, and its shares add up to "
            f"{money_text(int(added_up))}"
        )
