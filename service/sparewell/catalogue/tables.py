"""The part: one catalogue entry; and the dimension columns that parts and lots share."""

from __future__ import annotations

from operator import attrgetter

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    TABLE_OPTIONS,
    Base,
    Identity,
    Moment,
    OptionalNanometres,
)
from sparewell.measure.dimensions import DIMENSIONS


def column_of(dimension: str) -> str:
    """Return the name of the column that keeps a dimension."""
    return f"{dimension}_nanometres"


_dimensions_of = attrgetter(*map(column_of, DIMENSIONS))


class DimensionColumns:
    """One column for each word of the shared vocabulary."""

    outside_diameter_nanometres: Mapped[OptionalNanometres]
    inside_diameter_nanometres: Mapped[OptionalNanometres]
    cross_section_nanometres: Mapped[OptionalNanometres]
    thickness_nanometres: Mapped[OptionalNanometres]
    length_nanometres: Mapped[OptionalNanometres]
    width_nanometres: Mapped[OptionalNanometres]
    height_nanometres: Mapped[OptionalNanometres]
    depth_nanometres: Mapped[OptionalNanometres]
    wire_diameter_nanometres: Mapped[OptionalNanometres]
    neck_diameter_nanometres: Mapped[OptionalNanometres]
    tip_diameter_nanometres: Mapped[OptionalNanometres]
    thread_diameter_nanometres: Mapped[OptionalNanometres]
    thread_lead_nanometres: Mapped[OptionalNanometres]

    @property
    def dimensions(self) -> dict[str, int]:
        """Return the dimensions that are known, in nanometres, in the vocabulary's order."""
        known = zip(DIMENSIONS, _dimensions_of(self), strict=True)
        return {name: value for name, value in known if value is not None}


def dimension_checks() -> tuple[CheckConstraint, ...]:
    """Return the constraints that keep every dimension positive."""
    return tuple(
        CheckConstraint(f"{column_of(name)} > 0", name=f"{name}_positive") for name in DIMENSIONS
    )


class Part(DimensionColumns, Base):
    """One catalogue entry, under the user's own number, with its nominal dimensions."""

    __tablename__ = "part"
    __table_args__ = (*dimension_checks(), TABLE_OPTIONS)

    id: Mapped[Identity]
    number: Mapped[str] = mapped_column(String(64), unique=True)
    kind: Mapped[str] = mapped_column(String(40), index=True)
    name: Mapped[str] = mapped_column(String(200))
    material: Mapped[str | None] = mapped_column(String(60))
    counted_by: Mapped[str] = mapped_column(String(40))
    note: Mapped[str] = mapped_column(String(2000))
    created_at: Mapped[Moment]
