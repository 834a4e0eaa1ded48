"""Donors and their checklists."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Document,
    DocumentList,
    Identity,
    Moment,
    index_where_given,
    one_of,
)
from sparewell.database.numbers import DONOR_PREFIX, number_of
from sparewell.lots.tables import Lot


class ComponentState(StrEnum):
    """How a component of a donor is; only the first two are pieces."""

    PRESENT = "present"
    UNCHECKED = "unchecked"
    DAMAGED = "damaged"
    MISSING = "missing"


NO_PIECES = (ComponentState.DAMAGED, ComponentState.MISSING)


class Donor(Base):
    """A pen kept to be stripped. Its pieces lie in the place whose code is its number."""

    __tablename__ = "donor"
    __table_args__ = (index_where_given("donor", "purchase_id"), TABLE_OPTIONS)

    id: Mapped[Identity]
    pen_id: Mapped[int | None] = mapped_column(ForeignKey("pen.id"), unique=True)
    called: Mapped[str] = mapped_column(String(200))
    materials: Mapped[DocumentList]
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
    cost_minor: Mapped[int | None] = mapped_column(BigInteger)
    might_fetch_minor: Mapped[int | None] = mapped_column(BigInteger)
    purchase_id: Mapped[int | None] = mapped_column(ForeignKey("pen_purchase.id"))

    components: Mapped[list[Component]] = relationship(order_by="Component.id", lazy="selectin")

    @property
    def number(self) -> str:
        """The number people use, such as DON-0001."""
        return number_of(DONOR_PREFIX, self.id)


class Component(Base):
    """One line of a donor's checklist.

    What is present or unchecked is a lot of one piece; what is damaged or missing is no piece. Who
    has a piece now stands in the reservations and the ledger, not here.
    """

    __tablename__ = "donor_component"
    __table_args__ = (
        CheckConstraint(one_of("state", ComponentState), name="state_known"),
        CheckConstraint(
            f"lot_id IS NOT NULL OR {one_of('state', NO_PIECES)}", name="present_is_a_lot"
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    donor_id: Mapped[int] = mapped_column(ForeignKey("donor.id"), index=True)
    lot_id: Mapped[int | None] = mapped_column(ForeignKey("lot.id"), unique=True)
    part_of_id: Mapped[int | None] = mapped_column(ForeignKey("donor_component.id"), index=True)
    kind: Mapped[str] = mapped_column(String(40))
    state: Mapped[str] = mapped_column(String(10))
    attributes: Mapped[Document]
    note: Mapped[str] = mapped_column(String(2000))
    value_minor: Mapped[int | None] = mapped_column(BigInteger)

    lot: Mapped[Lot | None] = relationship(lazy="selectin")
