"""Photographs over HTTP: the picture comes and goes as it is, everything else as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from sparewell.configuration import PHOTOGRAPH_LIMIT
from sparewell.donors.tables import Donor
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import answer, page_of
from sparewell.edge.pictures import picture_response
from sparewell.photographs import operations as photographs
from sparewell.photographs.operations import Pictured, WhichPhotographs
from sparewell.photographs.pictures import MEDIA_TYPES
from sparewell.photographs.schemas import (
    NewPhotographArguments,
    PhotographArguments,
    PhotographPageSchema,
    PhotographSchema,
    RetireSchema,
)
from sparewell.photographs.tables import Photograph

blueprint = Blueprint("photographs", __name__, url_prefix="/v1")
_THIS_ONE = {"photograph_id": "$response.body#/id"}
_FROM_A_PHOTOGRAPH = {
    "read": Link("get", "/v1/photographs/{photograph_id}", _THIS_ONE),
    "look": Link("get", "/v1/photographs/{photograph_id}/image", _THIS_ONE),
    "retire": Link("post", "/v1/photographs/{photograph_id}/retire", _THIS_ONE),
}
_PICTURE = {"schema": {"type": "string", "format": "binary"}}


@dataclass(frozen=True)
class ShownPhotograph:
    """A photograph, and the donor that it is of, or that its pen became."""

    row: Photograph
    of_donor_id: int | None


def _shown(rows: Sequence[Photograph]) -> list[ShownPhotograph]:
    pen_ids = {row.pen_id for row in rows} - {None}
    statement = select(Donor.pen_id, Donor.id).where(Donor.pen_id.in_(pen_ids))
    donors = {row.pen_id: row.id for row in work().session.execute(statement)}
    return [ShownPhotograph(row, row.donor_id or donors.get(row.pen_id)) for row in rows]


def _add(pictured: Pictured, arguments: dict[str, Any], body: bytes) -> Any:
    photograph = photographs.add_photograph(work(), pictured, body, **arguments)
    return _shown([photograph])[0], location("photographs", photograph.id)


def _list(pictured: Pictured, arguments: dict[str, Any]) -> Any:
    statement = select(Photograph).where(photographs.photographs_of(pictured))
    if arguments["state"] != WhichPhotographs.ALL:
        is_kept = Photograph.retired_at.is_(None)
        statement = statement.where(
            is_kept if arguments["state"] == WhichPhotographs.KEPT else ~is_kept
        )
    page = page_of(work().session, statement, Photograph.id, arguments)
    return answer("photographs", page, _shown)


@blueprint.route("/pens/<identifier:number>/photographs", methods=["POST"])
@blueprint.raw_body(PHOTOGRAPH_LIMIT, MEDIA_TYPES)
@blueprint.arguments(NewPhotographArguments, location="query")
@blueprint.etag
@blueprint.response(201, PhotographSchema, links=_FROM_A_PHOTOGRAPH)
def add_to_pen(arguments: dict[str, Any], number: str, *, body: bytes) -> Any:
    """Keep a photograph of a pen; what the file says of places is left out."""
    return _add(photographs.pictured_pen(work().session, number), arguments, body)


@blueprint.route("/donors/<identifier:number>/photographs", methods=["POST"])
@blueprint.raw_body(PHOTOGRAPH_LIMIT, MEDIA_TYPES)
@blueprint.arguments(NewPhotographArguments, location="query")
@blueprint.etag
@blueprint.response(201, PhotographSchema, links=_FROM_A_PHOTOGRAPH)
def add_to_donor(arguments: dict[str, Any], number: str, *, body: bytes) -> Any:
    """Keep a photograph of a donor; what the file says of places is left out."""
    return _add(photographs.pictured_donor(work().session, number), arguments, body)


@blueprint.route("/pens/<identifier:number>/photographs")
@blueprint.arguments(PhotographArguments, location="query")
@blueprint.response(200, PhotographPageSchema)
def list_of_pen(arguments: dict[str, Any], number: str) -> Any:
    """List the photographs of a pen, those it has as a donor too."""
    return _list(photographs.pictured_pen(work().session, number), arguments)


@blueprint.route("/donors/<identifier:number>/photographs")
@blueprint.arguments(PhotographArguments, location="query")
@blueprint.response(200, PhotographPageSchema)
def list_of_donor(arguments: dict[str, Any], number: str) -> Any:
    """List the photographs of a donor, those of the pen that it was too."""
    return _list(photographs.pictured_donor(work().session, number), arguments)


@blueprint.route("/photographs/<row:photograph_id>")
@blueprint.etag
@blueprint.response(200, PhotographSchema)
def get_photograph(photograph_id: int) -> Any:
    """Return what is known of a photograph."""
    return _shown([photographs.find_photograph(work().session, photograph_id)])[0]


@blueprint.route("/photographs/<row:photograph_id>/image")
@blueprint.doc(
    responses={
        200: {"description": "the picture", "content": dict.fromkeys(MEDIA_TYPES, _PICTURE)},
        304: {"description": "the picture is the one that you have"},
    }
)
def get_image(photograph_id: int) -> Any:
    """Return the picture itself, that of a retired photograph too."""
    photograph = photographs.find_photograph(work().session, photograph_id)
    return picture_response(
        photograph.media_type,
        photograph.sha256,
        lambda: photographs.image_of(work().session, photograph),
    )


@blueprint.route("/photographs/<row:photograph_id>/retire", methods=["POST"])
@blueprint.arguments(RetireSchema)
@blueprint.response(200, PhotographSchema)
def retire(body: dict[str, Any], photograph_id: int) -> Any:
    """Take a photograph out of the lists; nothing is deleted, and the reason is kept."""
    photograph = photographs.find_photograph(work().session, photograph_id)
    return _shown([photographs.retire_photograph(work(), photograph, body["why"])])[0]
