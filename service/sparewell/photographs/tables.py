"""Photographs, and their bytes in a table of their own."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from sparewell.database.columns import (
    IDENTITY,
    LARGE_ROWS,
    TABLE_OPTIONS,
    Base,
    Identity,
    OptionalMoment,
    Signed,
    one_of,
)
from sparewell.photographs.pictures import MEDIA_TYPES


class Photograph(Signed, Base):
    """What is known of a picture of a pen or a donor; a retired one stays, with the reason.

    Size and digest are of the bytes as they are kept. The pixels are counted as the file has them;
    `orientation` is the number of Exif that says how to turn them, where the file had one.
    """

    __tablename__ = "photograph"
    __table_args__ = (
        CheckConstraint("(pen_id IS NULL) <> (donor_id IS NULL)", name="of_one"),
        CheckConstraint(one_of("media_type", MEDIA_TYPES), name="media_type_known"),
        CheckConstraint(
            "width_pixels > 0 AND height_pixels > 0 AND size_bytes > 0", name="size_positive"
        ),
        CheckConstraint("orientation BETWEEN 1 AND 8", name="orientation_known"),
        CheckConstraint(
            "(retired_at IS NULL) = (retired_why IS NULL) "
            "AND (retired_at IS NULL) = (retired_by IS NULL)",
            name="retired_with_why",
        ),
        TABLE_OPTIONS,
    )

    id: Mapped[Identity]
    pen_id: Mapped[int | None] = mapped_column(ForeignKey("pen.id"), index=True)
    donor_id: Mapped[int | None] = mapped_column(ForeignKey("donor.id"), index=True)
    media_type: Mapped[str] = mapped_column(String(20))
    width_pixels: Mapped[int] = mapped_column(BigInteger)
    height_pixels: Mapped[int] = mapped_column(BigInteger)
    orientation: Mapped[int | None] = mapped_column(BigInteger)
    size_bytes: Mapped[int] = mapped_column(BigInteger)
    sha256: Mapped[str] = mapped_column(String(64))
    note: Mapped[str] = mapped_column(String(2000))
    taken_on: Mapped[date | None]
    retired_at: Mapped[OptionalMoment]
    retired_by: Mapped[str | None] = mapped_column(String(200))
    retired_why: Mapped[str | None] = mapped_column(String(2000))

    @property
    def image(self) -> str:
        """Where the picture itself is."""
        return f"/v1/photographs/{self.id}/image"


class PhotographImage(Base):
    """The bytes of a photograph, read only when the picture itself is asked for."""

    __tablename__ = "photograph_image"
    __table_args__ = ({"info": LARGE_ROWS},)

    photograph_id: Mapped[int] = mapped_column(
        IDENTITY, ForeignKey("photograph.id"), primary_key=True, autoincrement=False
    )
    data: Mapped[bytes] = mapped_column(LargeBinary)
