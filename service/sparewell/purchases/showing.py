"""What is shown of purchases: each with its pens and donors, and the share of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sparewell.donors.tables import Donor
from sparewell.pens.tables import Pen
from sparewell.purchases.operations import Bought, bought_in
from sparewell.purchases.tables import PenPurchase
from sparewell.work import Work


@dataclass(frozen=True)
class ShownPurchaseLine:
    """A pen or a donor of a purchase."""

    row: Bought

    @property
    def pen(self) -> str | None:
        """The pen's number."""
        return self.row.number if isinstance(self.row, Pen) else None

    @property
    def donor(self) -> str | None:
        """The donor's number."""
        return self.row.number if isinstance(self.row, Donor) else None


@dataclass(frozen=True)
class ShownPurchase:
    """A purchase, and what was bought in it."""

    row: PenPurchase
    lines: Sequence[ShownPurchaseLine]


def shown_purchases(work: Work, rows: Sequence[PenPurchase]) -> list[ShownPurchase]:
    """Return purchases as they are shown."""
    things = bought_in(work.session, rows)
    return [
        ShownPurchase(row, [ShownPurchaseLine(each) for each in things[row.id]]) for row in rows
    ]


def shown_purchase(work: Work, row: PenPurchase) -> ShownPurchase:
    """Return one purchase as it is shown."""
    return shown_purchases(work, [row])[0]
