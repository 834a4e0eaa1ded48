"""Taking photographs in, finding them, retiring them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import date
from enum import StrEnum
from typing import Final

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from sparewell.database.transaction import locked
from sparewell.donors.operations import find_donor
from sparewell.donors.tables import Donor
from sparewell.errors import Conflict, Impossible, NotFound
from sparewell.pens.operations import find_pen
from sparewell.pens.tables import Pen
from sparewell.photographs.pictures import PictureError, read_picture
from sparewell.photographs.tables import Photograph, PhotographImage
from sparewell.work import Work

MOST_PER_PEN: Final = 40
Pictured = Pen | Donor


class WhichPhotographs(StrEnum):
    """Which photographs are listed."""

    KEPT = "kept"
    RETIRED = "retired"
    ALL = "all"


def pictured_pen(session: Session, number: str) -> Pictured:
    """Return the pen that photographs are asked for. Raises :class:`NotFound`."""
    return find_pen(session, number)


def pictured_donor(session: Session, number: str) -> Pictured:
    """Return what a donor's photographs are of: the pen that it was, if there was one.

    Raises :class:`NotFound`.
    """
    donor = find_donor(session, number)
    return donor if donor.pen_id is None else session.get_one(Pen, donor.pen_id)


def photographs_of(pictured: Pictured) -> ColumnElement[bool]:
    """Return the condition that holds for the photographs of a pen or a donor."""
    if isinstance(pictured, Pen):
        return Photograph.pen_id == pictured.id
    return Photograph.donor_id == pictured.id


def add_photograph(
    work: Work, pictured: Pictured, data: bytes, note: str = "", taken_on: date | None = None
) -> Photograph:
    """Keep a picture, without what it says of places.

    Raises :class:`Impossible` for what is no picture, :class:`Conflict` where it is kept already or
    there are too many.
    """
    try:
        picture = read_picture(data)
    except PictureError as error:
        raise Impossible.at("", str(error)) from error
    pictured = locked(work.session, pictured)
    sha256 = hashlib.sha256(picture.data).hexdigest()
    _refuse_more(work.session, pictured, sha256)
    photograph = Photograph(
        pen_id=pictured.id if isinstance(pictured, Pen) else None,
        donor_id=pictured.id if isinstance(pictured, Donor) else None,
        media_type=picture.media_type,
        width_pixels=picture.width_pixels,
        height_pixels=picture.height_pixels,
        orientation=picture.orientation,
        size_bytes=len(picture.data),
        sha256=sha256,
        note=note,
        taken_on=taken_on,
        actor=work.actor.token,
        person=work.actor.person,
        at=work.now,
    )
    work.session.add(photograph)
    work.session.flush()
    work.session.add(PhotographImage(photograph_id=photograph.id, data=picture.data))
    work.session.flush()
    return photograph


def _refuse_more(session: Session, pictured: Pictured, sha256: str) -> None:
    kept = session.execute(
        select(Photograph.id, Photograph.sha256).where(
            photographs_of(pictured), Photograph.retired_at.is_(None)
        )
    ).all()
    for photograph_id, other in kept:
        if other == sha256:
            raise Conflict(
                f"this very picture of {pictured.number} is photograph {photograph_id} already"
            )
    if len(kept) >= MOST_PER_PEN:
        raise Conflict(
            f"{pictured.number} has {len(kept)} photographs, and {MOST_PER_PEN} are the most; "
            "retire one first"
        )


def find_photograph(session: Session, photograph_id: int) -> Photograph:
    """Return a photograph by its id. Raises :class:`NotFound`."""
    photograph = session.get(Photograph, photograph_id)
    if photograph is None:
        raise NotFound(f"there is no photograph {photograph_id}")
    return photograph


def image_of(session: Session, photograph: Photograph) -> bytes:
    """Return the picture itself."""
    return session.get_one(PhotographImage, photograph.id).data


def retire_photograph(work: Work, photograph: Photograph, why: str) -> Photograph:
    """Take a photograph out of the lists; it stays, and so does the reason.

    Raises :class:`Conflict`.
    """
    photograph = locked(work.session, photograph)
    if photograph.retired_at is not None:
        raise Conflict(f"photograph {photograph.id} is retired already: {photograph.retired_why}")
    photograph.retired_at = work.now
    photograph.retired_by = work.actor.person or work.actor.token
    photograph.retired_why = why
    work.session.flush()
    return photograph


def altered(session: Session) -> Iterator[str]:
    """Yield a sentence for each photograph whose bytes are not there, or not those taken in."""
    is_of_it = PhotographImage.photograph_id == Photograph.id
    gone = select(Photograph.id).where(~select(PhotographImage).where(is_of_it).exists())
    for photograph_id in session.scalars(gone.order_by(Photograph.id)):
        yield f"photograph {photograph_id}: its picture is not there"
    there = select(Photograph.id, Photograph.sha256, PhotographImage.data).join(
        PhotographImage, is_of_it
    )
    rows = session.execute(there.order_by(Photograph.id), execution_options={"yield_per": 1})
    for photograph_id, sha256, data in rows:
        if hashlib.sha256(data).hexdigest() != sha256:
            yield f"photograph {photograph_id}: its picture is not the one that was taken in"
