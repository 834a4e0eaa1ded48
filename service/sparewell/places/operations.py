"""Drawers, donors, and the trays of jobs."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.database.inserting import insert_unless_there
from sparewell.database.numbers import DONOR_PREFIX, JOB_PREFIX, id_of
from sparewell.errors import Conflict, Impossible, NotFound, Problem
from sparewell.places.tables import Place, PlaceType
from sparewell.work import Work


def find_drawer(session: Session, code: str) -> Place:
    """Return a drawer by its code. Raises :class:`NotFound`."""
    place = _place(session, code)
    if place is None or place.type != PlaceType.DRAWER:
        raise NotFound(f"there is no drawer {code!r}")
    return place


def drawer_named(session: Session, code: str, pointer: str = "/drawer") -> Place:
    """Return a drawer that a body names. Raises :class:`Impossible`."""
    try:
        return find_drawer(session, code)
    except NotFound as error:
        raise Impossible.at(pointer, f"{error.detail}; POST /v1/drawers makes one") from error


def create_drawer(work: Work, code: str, note: str = "") -> Place:
    """Make a drawer. Raises :class:`Conflict`, or Impossible for the code of another place."""
    refuse_number(code)
    return _create(work, code, PlaceType.DRAWER, note)


def refuse_number(code: str) -> None:
    """Refuse a code that a tray or a donor's place has, or will have. Raises Impossible."""
    if id_of(JOB_PREFIX, code) or id_of(DONOR_PREFIX, code):
        raise Impossible.at(
            "/code", f"{code!r} is the number of a job or a donor; choose another code"
        )


def create_donor_place(work: Work, number: str) -> Place:
    """Make the place where a donor's pieces lie. Raises :class:`Conflict`."""
    return _create(work, number, PlaceType.DONOR, "")


def tray_of(work: Work, job_number: str) -> Place:
    """Return the tray of a job, made when it is first wanted."""
    return work.session.get_one(Place, tray_id_of(work, job_number))


def tray_id_of(work: Work, job_number: str) -> int:
    """Return the id of a job's tray, made when first wanted, by two at once if need be."""
    tray = {"code": job_number, "type": PlaceType.TRAY, "note": "", "created_at": work.now}
    statement = insert_unless_there(work.session, Place).values(tray).returning(Place.id)
    made = work.session.scalar(statement)
    if made is not None:
        return made
    return work.session.scalars(select(Place.id).where(Place.code == job_number)).one()


def _place(session: Session, code: str) -> Place | None:
    return session.scalar(select(Place).where(Place.code == code))


def _create(work: Work, code: str, kind: str, note: str) -> Place:
    if _place(work.session, code) is not None:
        raise Conflict(
            f"there is already a place {code!r}", [Problem("/code", "taken; choose another code")]
        )
    place = Place(code=code, type=kind, note=note, created_at=work.now)
    work.session.add(place)
    work.session.flush()
    return place
