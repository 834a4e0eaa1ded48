"""Photographs of pens and donors: seen, and taken with the phone at hand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Final

from flask import current_app, request
from sqlalchemy import select
from sqlalchemy.orm import Session

from sparewell.bench.pages import Shown, blueprint, or_form_again, see, show, takes_files
from sparewell.bench.typed import Typed
from sparewell.configuration import PHOTOGRAPH_LIMIT
from sparewell.donors.operations import find_donor
from sparewell.edge.context import work
from sparewell.edge.errors import checked
from sparewell.edge.pictures import picture_response
from sparewell.edge.raw_body import RAW_LIMITS
from sparewell.pens.operations import find_pen
from sparewell.photographs import operations as photographs
from sparewell.photographs.operations import Pictured
from sparewell.photographs.schemas import NewPhotographArguments
from sparewell.photographs.tables import Photograph

Find = Callable[[Session, str], Pictured]

# What photographs are of: how it is found, and what its photographs are kept with.
OF: Final[Mapping[str, tuple[Find, Find]]] = {
    "pens": (find_pen, photographs.pictured_pen),
    "donors": (find_donor, photographs.pictured_donor),
}


@blueprint.get("/<any(pens, donors):of>/<identifier:number>/photographs")
def photographs_page(of: str, number: str) -> Shown:
    """Show the photographs of a pen or a donor."""
    return _photographs_page(of, number, Typed({}))


def _photographs_page(of: str, number: str, form: Typed) -> Shown:
    session = work().session
    find, pictured = OF[of]
    is_of = photographs.photographs_of(pictured(session, number))
    kept = select(Photograph).where(is_of, Photograph.retired_at.is_(None))
    page = show(
        "photographs.html",
        of=of,
        pictured=find(session, number),
        photographs=session.scalars(kept.order_by(Photograph.id)).all(),
        form=form,
        most_bytes=current_app.config[RAW_LIMITS][PHOTOGRAPH_LIMIT],
    )
    return page, form.status


@blueprint.post("/<any(pens, donors):of>/<identifier:number>/photographs")
@takes_files(PHOTOGRAPH_LIMIT)
def add_photograph(of: str, number: str) -> Shown:
    """Keep a photograph."""
    form, picture = Typed(request.form), request.files.get("picture")
    with or_form_again(partial(_photographs_page, of, number), form):
        said = checked(NewPhotographArguments(), form.filled("note"))
        pictured = OF[of][1](work().session, number)
        if picture:
            picture.seek(0)  # a lost race has it done again
        data = picture.read() if picture else b""
        photographs.add_photograph(work(), pictured, data, **said)
    return see(f"/{of}/{number}/photographs", said="photographed")


@blueprint.get("/photographs/<row:photograph>")
def picture(photograph: int) -> Shown:
    """Hand on the picture itself."""
    session = work().session
    row = photographs.find_photograph(session, photograph)
    return picture_response(row.media_type, row.sha256, lambda: photographs.image_of(session, row))
