"""Drawers over HTTP."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from sparewell.database.transaction import locked
from sparewell.edge.addresses import location
from sparewell.edge.api import Blueprint, Link
from sparewell.edge.context import work
from sparewell.edge.paging import PageArguments, answer, page_of
from sparewell.places import operations as places
from sparewell.places.schemas import (
    ChangedDrawerSchema,
    DrawerPageSchema,
    DrawerSchema,
    NewDrawerSchema,
)
from sparewell.places.tables import Place, PlaceType

blueprint = Blueprint("places", __name__, url_prefix="/v1", tag="stock")
_THIS_DRAWER = {"code": "$response.body#/code"}
_FROM_A_DRAWER = {
    "read": Link("get", "/v1/drawers/{code}", _THIS_DRAWER),
    "change": Link("patch", "/v1/drawers/{code}", _THIS_DRAWER),
}


@blueprint.route("/drawers", methods=["POST"])
@blueprint.arguments(NewDrawerSchema)
@blueprint.etag
@blueprint.response(201, DrawerSchema, links=_FROM_A_DRAWER)
def add_drawer(body: dict[str, Any]) -> Any:
    """Make a drawer."""
    drawer = places.create_drawer(work(), **body)
    return drawer, location("drawers", drawer.code)


@blueprint.route("/drawers")
@blueprint.arguments(PageArguments, location="query")
@blueprint.response(200, DrawerPageSchema)
def list_drawers(arguments: dict[str, Any]) -> Any:
    """List the drawers."""
    statement = select(Place).where(Place.type == PlaceType.DRAWER)
    return answer("drawers", page_of(work().session, statement, Place.id, arguments))


@blueprint.route("/drawers/<identifier:code>")
@blueprint.etag
@blueprint.response(200, DrawerSchema)
def get_drawer(code: str) -> Any:
    """Return one drawer."""
    return places.find_drawer(work().session, code)


@blueprint.route("/drawers/<identifier:code>", methods=["PATCH"])
@blueprint.arguments(ChangedDrawerSchema)
@blueprint.etag
@blueprint.response(200, DrawerSchema)
def patch_drawer(body: dict[str, Any], code: str) -> Any:
    """Change a drawer's note."""
    drawer = locked(work().session, places.find_drawer(work().session, code))
    blueprint.check_etag(drawer, DrawerSchema)
    drawer.note = body.get("note", drawer.note)
    work().session.flush()
    return drawer
